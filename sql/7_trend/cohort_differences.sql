-- One row is how much wider one cohort's students hold than another's, against the same standard in the same device class.
-- Inputs: current_levels, own_levels, limits
-- Grain: aspect, stratum, cohort, other_cohort
-- Units: ratio is the first cohort's middle over the other's (above 1: wider), ratio_low to ratio_high its 95 % interval; counts in students
-- Source: students are the unit: means of their own levels (not leant toward the cohort), Welch's interval with t quantiles by the Cornish-Fisher
-- expansion. NULL ends, with difference_reason, below difference_minimum_students and where students do not scatter. Cohorts differ in much else than
-- teaching.
CREATE OR REPLACE VIEW cohort_differences AS
WITH cohort_means AS (
    SELECT
        c.aspect,
        c.stratum,
        c.cohort,
        AVG(o.own_ln ORDER BY c.student_id) AS middle,
        VAR_SAMP(o.own_ln ORDER BY c.student_id) / COUNT(*) AS error_variance,
        COUNT(*) AS student_count
    FROM current_levels AS c
    CROSS JOIN limits AS k
    INNER JOIN own_levels AS o ON c.session_id = o.session_id AND c.aspect = o.aspect AND NOT o.is_adjusted
    WHERE c.session_no >= k.flag_minimum_sessions
    GROUP BY c.aspect, c.stratum, c.cohort
),

pairs AS (
    SELECT
        a.aspect,
        a.stratum,
        a.cohort,
        b.cohort AS other_cohort,
        a.middle - b.middle AS difference,
        SQRT(a.error_variance + b.error_variance) AS error,
        POWER(a.error_variance + b.error_variance, 2)
        / NULLIF(POWER(a.error_variance, 2) / (a.student_count - 1) + POWER(b.error_variance, 2) / (b.student_count - 1), 0) AS df,
        a.student_count,
        b.student_count AS other_students,
        k.flag_wide_interval_z AS z,
        LEAST(a.student_count, b.student_count) >= k.difference_minimum_students AS is_enough,
        CAST(k.difference_minimum_students AS INTEGER) AS needed
    FROM cohort_means AS a
    CROSS JOIN limits AS k
    INNER JOIN cohort_means AS b ON a.aspect = b.aspect AND a.stratum = b.stratum AND a.cohort < b.cohort
),

quantiles AS (
    SELECT
        aspect,
        stratum,
        cohort,
        other_cohort,
        difference,
        error,
        student_count,
        other_students,
        is_enough,
        needed,
        z + (POWER(z, 3) + z) / (4 * df)
        + (5 * POWER(z, 5) + 16 * POWER(z, 3) + 3 * z) / (96 * POWER(df, 2))
        + (3 * POWER(z, 7) + 19 * POWER(z, 5) + 17 * POWER(z, 3) - 15 * z) / (384 * POWER(df, 3)) AS t
    FROM pairs
)

SELECT
    aspect,
    stratum,
    cohort,
    other_cohort,
    student_count,
    other_students,
    CASE WHEN is_enough THEN EXP(difference) END AS ratio,
    CASE WHEN is_enough THEN EXP(difference - t * error) END AS ratio_low,
    CASE WHEN is_enough THEN EXP(difference + t * error) END AS ratio_high,
    CASE
        WHEN NOT is_enough THEN FORMAT('fewer than {:d} students on one side', needed)
        WHEN error IS NULL THEN 'one student on a side has no scatter to work an interval out from'
        WHEN t IS NULL THEN 'the students of a cohort do not differ, so there is no scatter to work an interval out from'
    END AS difference_reason
FROM quantiles
ORDER BY aspect, stratum, cohort, other_cohort;
