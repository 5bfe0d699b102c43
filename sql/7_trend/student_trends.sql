-- One row is the trend of a student in one aspect at the date asked for, and what can be said of when the standard may be met.
-- A TABLE: pages read it.
-- Inputs: current_levels, session_trends, forecasts, limits
-- Grain: student_id, aspect
-- Units: slopes in ln ratio (0.05 is about 5 % wider from session to session); change_ratio is the last fitted ratio over the first
-- Source: session_trends at the latest session of the stratum flown last; forecasts. is_trend: seen at two sessions running and large enough to
-- matter. sessions_to_standard is given only where the whole interval lies within flag_forecast_horizon_sessions, which is seldom; else
-- sessions_to_standard_low alone is a lower bound. trend_reason and forecast say in words why a figure is missing.
CREATE OR REPLACE TABLE student_trends AS
SELECT
    c.student_id,
    c.aspect,
    c.cohort,
    c.stratum,
    t.window_sessions,
    CASE WHEN t.p_exact IS NOT NULL THEN t.slope_ln_per_session END AS slope_per_session,
    t.slope_low_ln_per_session AS slope_low_per_session,
    t.slope_high_ln_per_session AS slope_high_per_session,
    CASE WHEN t.p_exact IS NOT NULL THEN EXP(t.change_ln) END AS change_ratio,
    CASE WHEN t.p_exact IS NOT NULL THEN t.kendall_s END AS kendall_s,
    t.p_exact,
    t.is_rising OR t.is_falling AS is_trend,
    c.trend,
    CASE
        WHEN t.p_exact IS NULL
            THEN FORMAT('too early for a trend: {:d} sessions, {:d} are needed', c.session_no, CAST(k.flag_trend_minimum_sessions AS INTEGER))
    END AS trend_reason,
    f.earliest_sessions AS sessions_to_standard_low,
    CASE WHEN f.latest_sessions IS NOT NULL THEN f.middle_sessions END AS sessions_to_standard,
    f.latest_sessions AS sessions_to_standard_high,
    CASE
        WHEN c.state = 'insufficient data' THEN 'cannot say: insufficient data'
        WHEN c.p_not_met <= 0.5 THEN 'more likely inside the standard already'
        WHEN c.state = 'plateau' THEN 'cannot say: no trend to go by'
        WHEN f.student_id IS NULL THEN 'cannot say: too few sessions, or too few students to compare with'
        WHEN f.earliest_sessions IS NULL OR c.trend = 'slipping' THEN 'cannot say: too little improvement to go by so far'
        WHEN f.latest_sessions IS NOT NULL
            THEN
                FORMAT(
                    'about {:d} more sessions ({:d} to {:d}), if learning goes on as it has in this cohort',
                    f.middle_sessions, f.earliest_sessions, f.latest_sessions
                )
        WHEN f.earliest_sessions = 0 THEN 'cannot say: the standard may be met any time, or much later'
        ELSE FORMAT('at least {:d} more sessions, if learning goes on as it has in this cohort', f.earliest_sessions)
    END AS forecast
FROM current_levels AS c
CROSS JOIN limits AS k
INNER JOIN session_trends AS t ON c.session_id = t.session_id AND c.aspect = t.aspect AND NOT t.is_adjusted
LEFT JOIN forecasts AS f ON c.student_id = f.student_id AND c.aspect = f.aspect AND c.stratum = f.stratum
WHERE c.is_current
ORDER BY c.student_id, c.aspect;
