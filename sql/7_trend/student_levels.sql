-- One row is where a student stood in one aspect after a session that counts, with an interval, the chance of not meeting the standard, and a state.
-- A TABLE: pages read it many times.
-- Inputs: session_figures, session_levels, session_trends, flag_history, limits
-- Grain: student_id, aspect, session_id
-- Units: ratios: 1 is the edge of the standard; p_not_met is a probability; session_no and excluded_share count sessions
-- Source: ours. level_ratio with level_low .. level_high (80 %) and level_low95 .. level_high95 as flown; p_not_met from it. confidence is the
-- smaller chance of the figures as flown and those with the devices' effects taken off. States, the first that holds: insufficient
-- data (fewer than flag_minimum_sessions sessions); outside the standard (a flag stands); meets the standard (four chances in five,
-- and not more than flag_excluded_share of the sessions with level flight left out); slipping, improving; plateau; about at
-- the standard, cannot say yet.
CREATE OR REPLACE TABLE student_levels AS
WITH left_out AS (
    SELECT
        session_id,
        aspect,
        COUNT(*) FILTER (WHERE level_count > 0) OVER so_far AS flown_sessions,
        COUNT(*) FILTER (WHERE level_count > 0 AND NOT is_counted) OVER so_far AS excluded_sessions
    FROM session_figures
    WINDOW so_far AS (
        PARTITION BY student_id, aspect
        ORDER BY session_date, started_at, session_id
        ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
    )
),

joined AS (
    SELECT
        f.student_id,
        f.aspect,
        f.session_id,
        f.cohort,
        f.stratum,
        f.device_class,
        f.standard_id,
        f.tolerance,
        f.unit,
        f.session_date,
        f.started_at,
        f.session_no,
        f.maneuver_count,
        f.tolerance_ratio AS session_ratio,
        l.level_ln,
        l.level_sd,
        l.z,
        l.p_not_met,
        a.p_not_met AS p_not_met_adjusted,
        EXP(a.level_ln) AS level_ratio_adjusted,
        h.is_flagged,
        h.since_date,
        h.cleared_date,
        h.is_device_doubt,
        h.recent_outside,
        h.recent_sessions,
        t.is_rising,
        t.is_falling,
        o.flown_sessions,
        o.excluded_sessions,
        COALESCE(o.excluded_sessions / NULLIF(CAST(o.flown_sessions AS DOUBLE), 0), 0) AS excluded_share
    FROM session_figures AS f
    INNER JOIN session_levels AS l ON f.session_id = l.session_id AND f.aspect = l.aspect AND NOT l.is_adjusted
    INNER JOIN session_levels AS a ON f.session_id = a.session_id AND f.aspect = a.aspect AND a.is_adjusted
    INNER JOIN session_trends AS t ON f.session_id = t.session_id AND f.aspect = t.aspect AND NOT t.is_adjusted
    INNER JOIN flag_history AS h ON f.session_id = h.session_id AND f.aspect = h.aspect
    INNER JOIN left_out AS o ON f.session_id = o.session_id AND f.aspect = o.aspect
    WHERE f.is_counted
)

SELECT
    j.student_id,
    j.aspect,
    j.session_id,
    j.cohort,
    j.stratum,
    j.device_class,
    j.standard_id,
    j.tolerance,
    j.unit,
    j.session_date,
    j.started_at,
    j.session_no,
    j.maneuver_count,
    j.session_ratio,
    EXP(j.level_ln) AS level_ratio,
    EXP(j.level_ln - k.flag_interval_z * j.level_sd) AS level_low,
    EXP(j.level_ln + k.flag_interval_z * j.level_sd) AS level_high,
    EXP(j.level_ln - k.flag_wide_interval_z * j.level_sd) AS level_low95,
    EXP(j.level_ln + k.flag_wide_interval_z * j.level_sd) AS level_high95,
    j.level_ratio_adjusted,
    j.p_not_met,
    j.p_not_met_adjusted,
    LEAST(j.p_not_met, j.p_not_met_adjusted) AS confidence,
    CASE
        WHEN j.session_no < k.flag_minimum_sessions THEN 'insufficient data'
        WHEN j.is_flagged THEN 'outside the standard'
        WHEN j.z <= k.flag_meets_z AND j.excluded_share <= k.flag_excluded_share THEN 'meets the standard'
        WHEN j.z <= k.flag_meets_z THEN 'about at the standard, cannot say yet'
        WHEN j.is_rising THEN 'slipping'
        WHEN j.is_falling THEN 'improving'
        WHEN j.session_no >= k.flag_plateau_sessions THEN 'plateau'
        ELSE 'about at the standard, cannot say yet'
    END AS state,
    CASE
        WHEN j.session_no < k.flag_plateau_sessions THEN 'cannot say'
        WHEN j.is_rising THEN 'slipping'
        WHEN j.is_falling THEN 'improving'
        ELSE 'none seen'
    END AS trend,
    j.is_flagged,
    j.since_date,
    j.cleared_date,
    j.is_device_doubt,
    j.recent_outside,
    j.recent_sessions,
    j.flown_sessions,
    j.excluded_sessions,
    j.excluded_share
FROM joined AS j
CROSS JOIN limits AS k
ORDER BY j.aspect, j.student_id, j.session_date, j.started_at, j.session_id;
