-- One row is a session's figure in one aspect, as the history of a student takes it: up to the date asked for, with what keeps it out.
-- A TABLE: everything over time reads it many times, and it is small.
-- Inputs: sessions, session_air, maneuvers, maneuver_scores, session_scores, device_neutrals, limits, as_of
-- Grain: session_id, aspect
-- Units: ln_ratio is the natural logarithm of the session's tolerance ratio (0 is the edge of the standard); ln_squares and neutral_variance in its square
-- Source: a session counts with at least flag_minimum_maneuvers scored maneuvers in smooth or light air, declared and as the log shows it (air not known counts as such). For
-- trim ln_ratio is the logarithm of the mean, floored at flag_trim_ratio_floor, and ln_squares is 0: its scatter is wholly
-- between sessions. neutral_variance is what an uncertain neutral of the device adds. stratum: what is never pooled (simulator with
-- aeroplane, one standard with another, sessions that were given tasks with those whose maneuvers were found in the log, which
-- flatter). session_no counts a student's sessions in a stratum; NULL where the session does not count, and figure_reason says why not.
CREATE OR REPLACE TABLE session_figures AS
WITH asked_sessions AS (
    SELECT
        s.session_id,
        s.student_id,
        COALESCE(s.cohort, '(none)') AS cohort,
        s.session_date,
        s.started_at,
        s.device_id,
        s.device_class,
        COALESCE(a.used_air, s.air) AS air,
        COALESCE(a.is_rougher, s.air IN ('moderate', 'rough'), FALSE) AS is_rougher,
        COALESCE(a.used_air <> s.air, s.air IS NULL) AS is_air_detected
    FROM sessions AS s
    CROSS JOIN as_of AS d
    LEFT JOIN session_air AS a ON s.session_id = a.session_id
    WHERE s.session_date <= d.as_of_date
),

level_counts AS (
    SELECT
        session_id,
        COUNT(*) AS level_count,
        MIN(not_scored_reason) AS not_scored_reason
    FROM maneuvers
    WHERE kind = 'level'
    GROUP BY session_id
),

spreads AS (
    SELECT
        session_id,
        aspect,
        AVG(LN(GREATEST(tolerance_ratio, k.flag_ratio_floor)) ORDER BY maneuver_id) AS ln_mean,
        COALESCE(
            COUNT(*) * VAR_POP(LN(GREATEST(tolerance_ratio, k.flag_ratio_floor)) ORDER BY maneuver_id), 0
        ) AS ln_squares
    FROM maneuver_scores
    CROSS JOIN limits AS k
    WHERE is_in_figure AND tolerance_ratio IS NOT NULL
    GROUP BY session_id, aspect
),

joined AS (
    SELECT
        s.session_id,
        a.aspect,
        s.student_id,
        s.cohort,
        s.session_date,
        s.started_at,
        s.device_id,
        s.device_class,
        CASE WHEN a.aspect = 'trim' THEN s.device_class ELSE s.device_class || ', ' || c.standard_id END
        || CASE WHEN c.basis = 'inferred' THEN ', found in the log' ELSE '' END AS stratum,
        c.standard_id,
        c.tolerance,
        c.unit,
        c.basis,
        s.air,
        COALESCE(c.maneuver_count, 0) AS maneuver_count,
        COALESCE(l.level_count, 0) AS level_count,
        c.tolerance_ratio,
        c.is_consistent,
        CASE
            WHEN c.tolerance_ratio IS NULL THEN NULL
            WHEN a.aspect = 'trim' THEN LN(GREATEST(c.tolerance_ratio, k.flag_trim_ratio_floor))
            ELSE p.ln_mean
        END AS ln_ratio,
        CASE WHEN a.aspect = 'trim' THEN 0 ELSE p.ln_squares END AS ln_squares,
        CASE
            WHEN c.unit = 'of travel'
                THEN
                    COALESCE(POWER(n.neutral_se / k.untrimmed_limit / GREATEST(c.tolerance_ratio, k.flag_trim_ratio_floor), 2), 0)
            ELSE 0
        END AS neutral_variance,
        CASE
            WHEN l.level_count IS NULL THEN 'no level maneuver in the session'
            WHEN s.is_rougher THEN 'rougher air (' || s.air || CASE WHEN s.is_air_detected THEN ', as the log shows)' ELSE ')' END
            WHEN COALESCE(c.maneuver_count, 0) = 0 THEN COALESCE(c.score_reason, l.not_scored_reason, 'not measured')
            WHEN c.maneuver_count < k.flag_minimum_maneuvers
                THEN
                    'only ' || c.maneuver_count || ' scored level maneuver, ' || CAST(k.flag_minimum_maneuvers AS INTEGER) || ' are needed'
            WHEN c.unit = 'of travel' AND n.neutral_se > k.flag_neutral_se THEN
                'the neutral of device ' || s.device_id || ' is known only to ±' || FORMAT('{:.4f}', n.neutral_se)
        END AS figure_reason
    FROM asked_sessions AS s
    CROSS JOIN limits AS k
    CROSS JOIN (VALUES ('altitude'), ('heading'), ('trim')) AS a (aspect)
    LEFT JOIN level_counts AS l ON s.session_id = l.session_id
    LEFT JOIN session_scores AS c ON s.session_id = c.session_id AND a.aspect = c.aspect
    LEFT JOIN spreads AS p ON s.session_id = p.session_id AND a.aspect = p.aspect
    LEFT JOIN device_neutrals AS n ON s.device_id = n.device_id AND s.session_date = n.session_date
)

SELECT
    session_id,
    aspect,
    student_id,
    cohort,
    session_date,
    started_at,
    device_id,
    device_class,
    stratum,
    standard_id,
    tolerance,
    unit,
    basis,
    air,
    level_count,
    maneuver_count,
    tolerance_ratio,
    is_consistent,
    ln_ratio,
    ln_squares,
    neutral_variance,
    figure_reason IS NULL AS is_counted,
    CASE
        WHEN figure_reason IS NULL
            THEN
                ROW_NUMBER() OVER (
                    PARTITION BY student_id, aspect, stratum, figure_reason IS NULL
                    ORDER BY session_date, started_at, session_id
                )
    END AS session_no,
    figure_reason
FROM joined
ORDER BY aspect, student_id, session_date, started_at, session_id;
