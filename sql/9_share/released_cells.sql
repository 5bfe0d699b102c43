-- One row is a cell as it may be released: its figures, or null with is_withheld where it holds fewer than share_minimum_students students
-- (or none), or would give such a cell away.
-- Inputs: cell_grid, share_cells, withheld_cells, limits
-- Grain: cell_id
-- Units: median, q1, q3: tolerance ratios, 1 is the edge of the standard; ln_mean, ln_sd in its natural logarithm; met_share, met_low, met_high as fractions
-- Source: share_cells; a share above share_bound or below 1 - share_bound is told as such only, since it would tell of nearly every student in
-- the cell (as one US state does: Delaware Department of Education, suppression rules, 2017). Withheld is null, never zero.
CREATE OR REPLACE VIEW released_cells AS
WITH shown AS (
    SELECT
        c.*,
        CASE
            WHEN c.met_share > k.share_bound THEN 'above ' || ROUND(k.share_bound, 2)
            WHEN c.met_share < ROUND(1 - k.share_bound, 6) THEN 'below ' || ROUND(1 - k.share_bound, 2)
        END AS met_share_bound
    FROM share_cells AS c
    CROSS JOIN limits AS k
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
