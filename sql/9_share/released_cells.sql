-- One row is a cell as it may be released: its figures, or null with is_withheld where it holds fewer than share_minimum_students students
-- (or none), or would give such a cell away.
-- Inputs: cell_grid, share_cells, share_bounds, withheld_cells, limits
-- Grain: cell_id
-- Units: median, q1, q3: tolerance ratios, 1 is the edge of the standard; ln_mean, ln_sd in its natural logarithm; met_share, met_low, met_high as fractions
-- Source: share_cells; a share near one or nought is told as a bound only, since it would tell of nearly every student in the cell, or of the one or two
-- others: share_bounds by the cell's students, at most the setting share_bound. Withheld is null, never zero.
CREATE OR REPLACE VIEW released_cells AS
WITH bounds AS (
    SELECT
        c.cell_id,
        LEAST(MAX(k.share_bound), MAX(b.bound)) AS bound
    FROM share_cells AS c
    CROSS JOIN limits AS k
    INNER JOIN share_bounds AS b ON c.student_count >= b.least_students
    GROUP BY c.cell_id
),

shown AS (
    SELECT
        c.*,
        CASE
            WHEN c.met_share >= b.bound THEN ROUND(b.bound, 2) || ' or more'
            WHEN c.met_share <= ROUND(1 - b.bound, 6) THEN ROUND(1 - b.bound, 2) || ' or less'
        END AS met_share_bound
    FROM share_cells AS c
    INNER JOIN bounds AS b ON c.cell_id = b.cell_id
    LEFT JOIN withheld_cells AS w ON c.cell_id = w.cell_id
    WHERE w.cell_id IS NULL
)

SELECT
    g.cell_id,
    g.cell_level,
    g.aspect,
    g.device_class,
    g.standard_id,
    g.basis,
    g.cohort,
    g.week_no,
    s.cell_id IS NULL AS is_withheld,
    s.student_count,
    s.median,
    s.q1,
    s.q3,
    s.ln_mean,
    s.ln_sd,
    CASE WHEN s.met_share_bound IS NULL THEN s.met_share END AS met_share,
    CASE WHEN s.met_share_bound IS NULL THEN s.met_low END AS met_low,
    CASE WHEN s.met_share_bound IS NULL THEN s.met_high END AS met_high,
    s.met_share_bound
FROM cell_grid AS g
LEFT JOIN shown AS s ON g.cell_id = s.cell_id;
