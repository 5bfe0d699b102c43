-- One row is a habit that a student shows and that no flag tells: chasing the needle, or trimming late after level-offs and power changes.
-- Inputs: student_states, current_levels, fault_signs, settling_shares, exercises
-- Grain: student_id, habit
-- Units: none; figures stand in the sentence
-- Source: ours. Chasing: fault_signs over the latest level maneuvers. Late trim: settling_shares, for students who hold their altitude (who is
-- off the altitude cannot settle). Not told where trim is flagged already. It is no flag: simulated, late trim is wrong too often for that.
CREATE OR REPLACE VIEW worth_a_word AS
WITH unflagged AS (
    SELECT
        student_id,
        cohort
    FROM student_states
    WHERE aspect = 'trim' AND NOT is_flagged
),

altitudes AS (
    SELECT
        c.student_id,
        c.device_class,
        c.p_not_met,
        f.is_chasing,
        f.reversals_per_min,
        f.near_zero_vs
    FROM current_levels AS c
    INNER JOIN fault_signs AS f ON c.student_id = f.student_id AND c.aspect = f.aspect AND c.stratum = f.stratum
    WHERE c.is_current AND c.aspect = 'altitude'
),

habits AS (
    SELECT
        student_id,
        'chasing' AS habit,
        FORMAT(
            'the control reverses {:.0f} times a minute and the vertical speed is near zero for only {:.0f} % of the time: it looks like chasing the needle',
            reversals_per_min, 100 * near_zero_vs
        ) AS sentence
    FROM altitudes
    WHERE is_chasing
    UNION ALL
    SELECT
        s.student_id,
        'late_trim' AS habit,
        FORMAT(
            'trimmed in time after {:.0f} % of the last {:d} level-offs and power changes (80 % interval {:.0f} to {:.0f} %)',
            100 * s.settled_share, s.event_count, 100 * s.share_low, 100 * s.share_high
        ) AS sentence
    FROM settling_shares AS s
    INNER JOIN altitudes AS a ON s.student_id = a.student_id AND s.device_class = a.device_class
    WHERE s.is_latest AND s.is_slow AND a.p_not_met <= 0.5
)

SELECT
    h.student_id,
    h.habit,
    u.cohort,
    h.sentence,
    e.exercise
FROM habits AS h
INNER JOIN unflagged AS u ON h.student_id = u.student_id
INNER JOIN exercises AS e ON h.habit = e.fault
ORDER BY h.student_id, h.habit;
