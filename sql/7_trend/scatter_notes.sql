-- One row is how much figures scatter in a cohort at the date asked for, and how many sessions it takes to find a student at twice the standard.
-- Inputs: pooled_noise, cohort_leans, session_figures, device_effects, limits
-- Grain: cohort, aspect, stratum
-- Units: standard deviations of the natural logarithm of tolerance ratio (0.3 is about 30 %); sessions_needed in sessions
-- Source: the estimates that the flag rule uses, as of the latest session. sessions_needed: ((flag_sensitivity_z + flag_raise_z) x session_sd / ln 2)^2,
-- at least flag_outside_sessions: what any rule needs to find 19 in 20 at twice the standard. Beyond flag_noisy_day_sd scatter_note says so.
-- students_sd is NULL below flag_pool_minimum_students.
CREATE OR REPLACE VIEW scatter_notes AS
WITH latest AS (
    SELECT *
    FROM pooled_noise
    QUALIFY session_date = MAX(session_date) OVER (PARTITION BY cohort, aspect, stratum)
),

sizes AS (
    SELECT
        cohort,
        aspect,
        stratum,
        ANY_VALUE(device_class) AS device_class,
        AVG(maneuver_count) AS maneuvers
    FROM session_figures
    WHERE is_counted
    GROUP BY cohort, aspect, stratum
),

devices AS (
    SELECT
        aspect,
        device_class,
        STDDEV_POP(effect_ln ORDER BY device_id) AS device_sd
    FROM (
        SELECT *
        FROM device_effects
        QUALIFY session_date = MAX(session_date) OVER (PARTITION BY aspect, device_class)
    ) AS told
    GROUP BY aspect, device_class
),

estimates AS (
    SELECT
        n.cohort,
        n.aspect,
        n.stratum,
        n.session_count,
        SQRT(n.within_variance) AS within_sd,
        SQRT(n.between_variance) AS between_sd,
        SQRT(n.between_variance + n.within_variance / s.maneuvers) AS session_sd,
        CASE WHEN c.student_count >= k.flag_pool_minimum_students THEN SQRT(c.true_variance) END AS students_sd,
        d.device_sd
    FROM latest AS n
    CROSS JOIN limits AS k
    INNER JOIN sizes AS s ON n.cohort = s.cohort AND n.aspect = s.aspect AND n.stratum = s.stratum
    INNER JOIN cohort_leans AS c
        ON
            n.cohort = c.cohort
            AND n.aspect = c.aspect
            AND n.stratum = c.stratum
            AND n.session_date = c.session_date
            AND NOT c.is_adjusted
    LEFT JOIN devices AS d ON s.aspect = d.aspect AND s.device_class = d.device_class
),

needed AS (
    SELECT
        e.cohort,
        e.aspect,
        e.stratum,
        e.session_count,
        e.within_sd,
        e.between_sd,
        e.session_sd,
        e.students_sd,
        e.device_sd,
        CAST(
            GREATEST(CEIL(POWER((k.flag_sensitivity_z + k.flag_raise_z) * e.session_sd / LN(2), 2)), k.flag_outside_sessions) AS BIGINT
        ) AS sessions_needed,
        k.flag_noisy_day_sd
    FROM estimates AS e
    CROSS JOIN limits AS k
)

SELECT
    cohort,
    aspect,
    stratum,
    session_count,
    within_sd,
    between_sd,
    session_sd,
    students_sd,
    device_sd,
    sessions_needed,
    CASE
        WHEN between_sd > flag_noisy_day_sd
            THEN FORMAT('days differ much here: it takes about {:d} sessions to find a student at twice the standard', sessions_needed)
    END AS scatter_note
FROM needed
ORDER BY cohort, aspect, stratum;
