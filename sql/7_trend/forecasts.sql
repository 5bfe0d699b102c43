-- One row is when a student outside the standard may meet it, if learning goes on as it has in this cohort; counts of further sessions.
-- A TABLE: read several times.
-- Inputs: current_levels, learning_fits, limits
-- Grain: student_id, aspect, stratum
-- Units: sessions from the latest one; exponents in ln ratio per ln session number, + narrower with practice
-- Source: ours. The student's exponent is shrunk to the middle of the cohort's (spread beyond sampling, at least flag_forecast_exponent_sd); the
-- level h sessions on is level - exponent x ln((n + h) / n), with the variance of both. earliest, middle and latest are the first h at which the
-- chance of meeting the standard reaches flag_forecast_low_chance, one half and flag_forecast_high_chance; NULL beyond
-- flag_forecast_horizon_sessions. No row: fewer than flag_forecast_minimum_sessions sessions or flag_pool_minimum_students students, a plateau,
-- or more likely inside than outside already. Nobody who has just stopped improving can be told apart in so few sessions: the earliest is
-- a lower bound, and all else is seldom known.
CREATE OR REPLACE TABLE forecasts AS
WITH cohort_exponents AS (
    SELECT
        f.cohort,
        f.aspect,
        f.stratum,
        MEDIAN(f.own_exponent) AS cohort_exponent,
        GREATEST(
            POWER(MAX(k.flag_forecast_exponent_sd), 2),
            VAR_SAMP(f.own_exponent ORDER BY f.student_id) - AVG(f.exponent_variance ORDER BY f.student_id)
        ) AS cohort_variance,
        COUNT(*) AS student_count
    FROM learning_fits AS f
    CROSS JOIN limits AS k
    WHERE f.session_no >= k.flag_forecast_minimum_sessions
    GROUP BY f.cohort, f.aspect, f.stratum
    HAVING COUNT(*) >= MAX(k.flag_pool_minimum_students)
),

posteriors AS (
    SELECT
        c.student_id,
        c.aspect,
        c.stratum,
        c.session_no,
        LN(c.level_ratio) AS level_ln,
        e.cohort_exponent,
        e.student_count,
        f.weights,
        f.practices,
        f.practice_squares + 1 / e.cohort_variance AS stiff_squares,
        f.figures,
        f.products + e.cohort_exponent / e.cohort_variance AS stiff_products
    FROM current_levels AS c
    CROSS JOIN limits AS k
    INNER JOIN learning_fits AS f ON c.student_id = f.student_id AND c.aspect = f.aspect AND c.stratum = f.stratum
    INNER JOIN cohort_exponents AS e ON f.cohort = e.cohort AND f.aspect = e.aspect AND f.stratum = e.stratum
    WHERE c.session_no >= k.flag_forecast_minimum_sessions AND c.p_not_met > 0.5 AND c.state <> 'plateau'
),

solved AS (
    SELECT
        student_id,
        aspect,
        stratum,
        session_no,
        level_ln,
        cohort_exponent,
        student_count,
        (weights * stiff_products - practices * figures) / (weights * stiff_squares - practices * practices) AS exponent,
        stiff_squares / (weights * stiff_squares - practices * practices) AS level_variance,
        -practices / (weights * stiff_squares - practices * practices) AS covariance,
        weights / (weights * stiff_squares - practices * practices) AS exponent_variance
    FROM posteriors
),

h AS (SELECT UNNEST(RANGE(CAST(flag_forecast_horizon_sessions AS BIGINT) + 1)) AS ahead FROM limits),

horizons AS (
    SELECT
        s.student_id,
        s.aspect,
        s.stratum,
        h.ahead,
        -(s.level_ln - s.exponent * LN(CAST(s.session_no + h.ahead AS DOUBLE) / s.session_no))
        / SQRT(
            s.level_variance
            - 2 * LN(CAST(s.session_no + h.ahead AS DOUBLE) / s.session_no) * s.covariance
            + POWER(LN(CAST(s.session_no + h.ahead AS DOUBLE) / s.session_no), 2) * s.exponent_variance
        ) AS z_met
    FROM solved AS s
    CROSS JOIN h
),

reached AS (
    SELECT
        z.student_id,
        z.aspect,
        z.stratum,
        MIN(z.ahead) FILTER (WHERE 1 / (1 + EXP(-(1.5976 * z.z_met + 0.07056 * POWER(z.z_met, 3)))) >= k.flag_forecast_low_chance) AS earliest,
        MIN(z.ahead) FILTER (WHERE z.z_met >= 0) AS middle,
        MIN(z.ahead) FILTER (WHERE 1 / (1 + EXP(-(1.5976 * z.z_met + 0.07056 * POWER(z.z_met, 3)))) >= k.flag_forecast_high_chance) AS latest
    FROM horizons AS z
    CROSS JOIN limits AS k
    GROUP BY z.student_id, z.aspect, z.stratum
)

SELECT
    s.student_id,
    s.aspect,
    s.stratum,
    s.exponent AS learning_exponent,
    s.cohort_exponent,
    s.student_count,
    r.earliest AS earliest_sessions,
    r.middle AS middle_sessions,
    r.latest AS latest_sessions
FROM solved AS s
INNER JOIN reached AS r ON s.student_id = r.student_id AND s.aspect = r.aspect AND s.stratum = r.stratum
ORDER BY s.student_id, s.aspect, s.stratum;
