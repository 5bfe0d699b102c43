-- One row is a rule that data of this store breaks: which rule, what breaks it, and in words how.
-- Inputs: sessions, students, tasks, maneuvers, altitude_hold, heading_hold, excursions, trim_settling, maneuver_scores, flags, limits
-- Grain: rule, subject
-- Units: none
-- Source: identities that hold for any flight (mean squared plus spread squared is rms squared; mean absolute lies between |mean| and rms), and
-- what the store promises (every session has its student, every task its maneuver, every flag its evidence). No row: all hold.
CREATE OR REPLACE VIEW broken_rules AS
WITH holds AS (
    SELECT
        maneuver_id,
        'altitude' AS channel,
        altitude_bias_ft AS bias,
        altitude_sd_ft AS sd,
        altitude_rmse_ft AS rmse,
        altitude_mae_ft AS mae,
        altitude_max_ft AS largest,
        altitude_observed_s AS observed_s
    FROM altitude_hold
    UNION ALL
    SELECT
        maneuver_id,
        'heading' AS channel,
        heading_bias_deg AS bias,
        heading_sd_deg AS sd,
        heading_rmse_deg AS rmse,
        heading_mae_deg AS mae,
        heading_max_deg AS largest,
        heading_observed_s AS observed_s
    FROM heading_hold
),

evidence AS (
    SELECT
        student_id,
        aspect,
        UNNEST(evidence) AS maneuver_id
    FROM flags
)

SELECT
    'session_has_its_student' AS rule,
    s.session_id AS subject,
    'its student is not in the roster' AS sentence
FROM sessions AS s
ANTI JOIN students AS p ON s.student_id = p.student_id
UNION ALL
SELECT
    'task_has_its_maneuver' AS rule,
    t.session_id || ' task ' || t.task_no AS subject,
    'it was not measured under the settings of today; run levelhold score' AS sentence
FROM tasks AS t
ANTI JOIN maneuvers AS m ON t.session_id = m.session_id AND m.basis = 'assigned'
UNION ALL
SELECT
    'maneuver_lies_in_its_session' AS rule,
    m.maneuver_id AS subject,
    FORMAT('{:.1f} to {:.1f} s in a log of {:.1f} s', m.start_s, m.end_s, s.duration_s) AS sentence
FROM maneuvers AS m
INNER JOIN sessions AS s ON m.session_id = s.session_id
WHERE m.start_s < 0 OR m.end_s <= m.start_s OR m.end_s > s.duration_s + 1
UNION ALL
SELECT
    'observed_is_at_most_the_length' AS rule,
    m.maneuver_id AS subject,
    FORMAT('{:.3f} s observed of {:.3f} s', m.observed_s, m.end_s - m.start_s) AS sentence
FROM maneuvers AS m
WHERE m.observed_s < 0 OR m.observed_s > m.end_s - m.start_s + 1e-3
UNION ALL
SELECT
    'rms_is_mean_and_spread' AS rule,
    h.maneuver_id || ' ' || h.channel AS subject,
    FORMAT('rms {} but mean {} and spread {}', h.rmse, h.bias, h.sd) AS sentence
FROM holds AS h
WHERE ABS(h.rmse - SQRT(h.bias * h.bias + h.sd * h.sd)) > 1e-6 * GREATEST(h.rmse, 1)
UNION ALL
SELECT
    'errors_are_in_order' AS rule,
    h.maneuver_id || ' ' || h.channel AS subject,
    FORMAT('|mean| {}, mean absolute {}, rms {}, largest {}', ABS(h.bias), h.mae, h.rmse, h.largest) AS sentence
FROM holds AS h
WHERE ABS(h.bias) > h.mae + 1e-6 OR h.mae > h.rmse + 1e-6 OR h.rmse > h.largest + 1e-6
UNION ALL
SELECT
    'time_outside_fits' AS rule,
    e.maneuver_id || ' ' || e.channel || ' ' || e.standard_id AS subject,
    FORMAT('{} of the time inside, {} s outside, longest {} s', e.in_tolerance, e.out_s, e.longest_out_s) AS sentence
FROM excursions AS e
WHERE e.in_tolerance NOT BETWEEN 0 AND 1 OR e.longest_out_s > e.out_s + 1e-3 OR (e.excursions = 0 AND e.out_s > 0)
UNION ALL
SELECT
    'settling_lies_in_its_event' AS rule,
    t.maneuver_id AS subject,
    FORMAT('settled after {} s, followed for {} s', t.trim_settle_s, t.followed_s) AS sentence
FROM trim_settling AS t
WHERE t.trim_settle_s NOT BETWEEN 0 AND t.followed_s + 1e-3 OR (t.is_settled AND t.trim_settle_s IS NULL)
UNION ALL
SELECT
    'scored_maneuver_has_scores' AS rule,
    m.maneuver_id AS subject,
    'it is scored but has no score' AS sentence
FROM maneuvers AS m
ANTI JOIN maneuver_scores AS c ON m.maneuver_id = c.maneuver_id
WHERE m.is_scored
UNION ALL
SELECT
    'limits_are_set' AS rule,
    'limits' AS subject,
    'a limit that scoring needs is not a positive number' AS sentence
FROM limits AS l
WHERE NOT COALESCE(l.untrimmed_limit > 0 AND l.scored_minimum_s > 0 AND l.hold_share BETWEEN 0 AND 1, FALSE)
UNION ALL
SELECT
    'flag_has_its_evidence' AS rule,
    e.student_id || ' ' || e.aspect AS subject,
    e.maneuver_id || ' is no maneuver' AS sentence
FROM evidence AS e
ANTI JOIN maneuvers AS m ON e.maneuver_id = m.maneuver_id;
