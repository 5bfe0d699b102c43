-- One row is a cell of students' weeks with its figures, safe or not: not to be released as it stands. A TABLE: read several times.
-- Inputs: week_members, limits
-- Grain: cell_id
-- Units: median, q1, q3: tolerance ratios, 1 is the edge of the standard; ln_mean, ln_sd in its natural logarithm; met_share, met_low, met_high as fractions
-- Source: quartiles, mean and spread over students' weeks; met_share is the share of those weeks that met the standard, with the Wilson score interval
-- (Wilson 1927) at flag_wide_interval_z, counted as if each student gave one week: wide enough though weeks of one student go together.
-- No smallest and no largest value is kept.
CREATE OR REPLACE TABLE share_cells AS
WITH sums AS (
    SELECT
        m.cell_id,
        m.parent_cell_id,
        m.cell_level,
        m.aspect,
        m.device_class,
        m.standard_id,
        m.basis,
        m.cohort,
        m.week_no,
        COUNT(DISTINCT m.student_id) AS student_count,
        EXP(MEDIAN(m.ln_ratio)) AS median,
        EXP(QUANTILE_CONT(m.ln_ratio, 0.25)) AS q1,
        EXP(QUANTILE_CONT(m.ln_ratio, 0.75)) AS q3,
        AVG(m.ln_ratio ORDER BY m.contribution_id) AS ln_mean,
        STDDEV_SAMP(m.ln_ratio ORDER BY m.contribution_id) AS ln_sd,
        COUNT(*) FILTER (WHERE m.is_met) / CAST(COUNT(*) AS DOUBLE) AS met_share,
        MAX(k.flag_wide_interval_z) AS z
    FROM week_members AS m
    CROSS JOIN limits AS k
    GROUP BY m.cell_id, m.parent_cell_id, m.cell_level, m.aspect, m.device_class, m.standard_id, m.basis, m.cohort, m.week_no
),

intervals AS (
    SELECT
        *,
        met_share + POWER(z, 2) / (2 * student_count) AS wilson_middle,
        z * SQRT(met_share * (1 - met_share) / student_count + POWER(z / (2 * student_count), 2)) AS wilson_half,
        1 + POWER(z, 2) / student_count AS wilson_divisor
    FROM sums
)

SELECT
    cell_id,
    parent_cell_id,
    cell_level,
    aspect,
    device_class,
    standard_id,
    basis,
    cohort,
    week_no,
    student_count,
    ROUND(median, 3) AS median,
    ROUND(q1, 3) AS q1,
    ROUND(q3, 3) AS q3,
    ROUND(ln_mean, 4) AS ln_mean,
    ROUND(ln_sd, 4) AS ln_sd,
    ROUND(met_share, 4) AS met_share,
    ROUND(GREATEST(0, (wilson_middle - wilson_half) / wilson_divisor), 4) AS met_low,
    ROUND(LEAST(1, (wilson_middle + wilson_half) / wilson_divisor), 4) AS met_high
FROM intervals;
