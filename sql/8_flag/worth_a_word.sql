-- One row is a habit that a student shows and that no flag tells: chasing the needle, trimming late or the wrong way, flying by the trim, overshooting.
-- Inputs: student_states, current_levels, fault_signs, settling_shares, exercises
-- Grain: student_id, habit
-- Units: none; figures stand in the sentence
-- Source: ours. Late trim apart, fault_signs over the latest level maneuvers and level-offs. Late trim: settling_shares, for students who hold their altitude (who is
-- off the altitude cannot settle). Not told where the aspect is flagged already. It is no flag: simulated, late trim is wrong too often for that.
CREATE OR REPLACE VIEW worth_a_word AS
WITH unflagged AS (
    SELECT
        student_id,
        aspect,
        cohort
    FROM student_states
    WHERE NOT is_flagged
),

altitudes AS (
    SELECT
        c.student_id,
        c.device_class,
        c.p_not_met,
        f.is_chasing,
        f.reversals_per_min,
        f.near_zero_vs,
        f.is_wrong_way,
        f.wrong_share,
        f.is_by_trim,
        f.unsteady_share,
        f.is_overshooting,
        f.overshoot_ft,
        f.level_off_count
    FROM current_levels AS c
    INNER JOIN fault_signs AS f ON c.student_id = f.student_id AND c.aspect = f.aspect AND c.stratum = f.stratum
    WHERE c.is_current AND c.aspect = 'altitude'
),

habits AS (
    SELECT
        student_id,
        'trim' AS aspect,
        'chasing' AS habit,
        FORMAT(
            'the control reverses {:.0f} times a minute and the vertical speed is near zero for only {:.0f} % of the time: it looks like chasing the needle',
            reversals_per_min, 100 * near_zero_vs
        ) AS sentence
    FROM altitudes
    WHERE is_chasing
    UNION ALL
    SELECT
        student_id,
        'trim' AS aspect,
        'flying_by_trim' AS habit,
        FORMAT('{:.0f} % of the trim inputs came while still climbing or descending', 100 * unsteady_share) AS sentence
    FROM altitudes
    WHERE is_by_trim AND NOT is_chasing
    UNION ALL
    SELECT
        student_id,
        'trim' AS aspect,
        'trim_wrong_way' AS habit,
        FORMAT('{:.0f} % of the trim inputs went the wrong way', 100 * wrong_share) AS sentence
    FROM altitudes
    WHERE is_wrong_way
    UNION ALL
    SELECT
        student_id,
        'altitude' AS aspect,
        'overshoot' AS habit,
        FORMAT('level-offs overshoot by {:.0f} ft (median of {:d})', overshoot_ft, level_off_count) AS sentence
    FROM altitudes
    WHERE is_overshooting
    UNION ALL
    SELECT
        s.student_id,
        'trim' AS aspect,
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
    h.aspect,
    u.cohort,
    h.sentence,
    e.exercise
FROM habits AS h
INNER JOIN unflagged AS u ON h.student_id = u.student_id AND h.aspect = u.aspect
INNER JOIN exercises AS e ON h.habit = e.fault
ORDER BY h.student_id, h.habit;
