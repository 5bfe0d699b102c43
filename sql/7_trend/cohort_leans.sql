-- One row is what a cohort's students had in common on a session date: the middle of their own levels and how far they truly differ.
-- A TABLE: the join over students and dates runs once.
-- Inputs: own_levels, limits
-- Grain: cohort, aspect, stratum, session_date, is_adjusted
-- Units: middle_ln in the natural logarithm of tolerance ratio, true_variance in its square; student_count students with enough sessions
-- Source: each student's latest own level up to the date. Spread of levels less the mean of their sampling variances (normal-normal
-- shrinkage); below flag_pool_minimum_students the middle is the standard itself and the spread flag_pool_default_variance.
CREATE OR REPLACE TABLE cohort_leans AS
WITH pool_dates AS (
    SELECT DISTINCT
        cohort,
        aspect,
        stratum,
        is_adjusted,
        session_date
    FROM own_levels
),

last_of_day AS (
    SELECT
        o.cohort,
        o.aspect,
        o.stratum,
        o.is_adjusted,
        o.student_id,
        o.session_date,
        o.own_ln,
        o.own_variance
    FROM own_levels AS o
    CROSS JOIN limits AS k
    WHERE o.session_no >= k.flag_minimum_sessions
    QUALIFY ROW_NUMBER() OVER (
        PARTITION BY o.aspect, o.stratum, o.is_adjusted, o.student_id, o.session_date
        ORDER BY o.session_no DESC
    ) = 1
),

holding AS (
    SELECT
        cohort,
        aspect,
        stratum,
        is_adjusted,
        student_id,
        own_ln,
        own_variance,
        session_date AS from_date,
        LEAD(session_date) OVER (PARTITION BY aspect, stratum, is_adjusted, student_id ORDER BY session_date) AS next_date
    FROM last_of_day
),

latest AS (
    SELECT
        d.cohort,
        d.aspect,
        d.stratum,
        d.is_adjusted,
        d.session_date,
        h.student_id,
        h.own_ln,
        h.own_variance
    FROM pool_dates AS d
    INNER JOIN holding AS h
        ON
            d.cohort = h.cohort
            AND d.aspect = h.aspect
            AND d.stratum = h.stratum
            AND d.is_adjusted = h.is_adjusted
            AND d.session_date >= h.from_date
            AND (d.session_date < h.next_date OR h.next_date IS NULL)
),

pooled AS (
    SELECT
        cohort,
        aspect,
        stratum,
        is_adjusted,
        session_date,
        COUNT(*) AS student_count,
        MEDIAN(own_ln) AS middle,
        VAR_SAMP(own_ln ORDER BY student_id) - AVG(own_variance ORDER BY student_id) AS true_variance
    FROM latest
    GROUP BY cohort, aspect, stratum, is_adjusted, session_date
)

SELECT
    d.cohort,
    d.aspect,
    d.stratum,
    d.is_adjusted,
    d.session_date,
    CASE WHEN p.student_count >= k.flag_pool_minimum_students THEN p.middle ELSE 0 END AS middle_ln,
    CASE
        WHEN p.student_count >= k.flag_pool_minimum_students THEN GREATEST(k.flag_pool_variance_floor, p.true_variance)
        ELSE k.flag_pool_default_variance
    END AS true_variance,
    COALESCE(p.student_count, 0) AS student_count
FROM pool_dates AS d
CROSS JOIN limits AS k
LEFT JOIN pooled AS p
    ON d.cohort = p.cohort AND d.aspect = p.aspect AND d.stratum = p.stratum AND d.is_adjusted = p.is_adjusted AND d.session_date = p.session_date
ORDER BY d.cohort, d.aspect, d.stratum, d.session_date, d.is_adjusted;
