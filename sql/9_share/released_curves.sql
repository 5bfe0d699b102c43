-- One row is a cell of level-offs and power changes at one time after them, as it may be released: the share not yet settled (or set), or null with is_withheld.
-- Inputs: share_curves, event_members, share_bounds, withheld_cells, limits
-- Grain: cell_id, after_s
-- Units: after_s in seconds from the event's start; survival as a fraction
-- Source: share_curves. Every cohort is listed in every class of device, whether anybody flew it or not. Withheld: the cell, or all of it from the time on
-- at which fewer than share_minimum_students students are still followed. A share near one or nought is told as a bound
-- only, as in released_cells. Censored events are counted as such, never dropped.
CREATE OR REPLACE VIEW released_curves AS
WITH cells AS (
    SELECT
        cell_id,
        cell_level,
        figure,
        device_class,
        basis,
        cohort,
        COUNT(DISTINCT student_id) AS student_count
    FROM event_members
    GROUP BY cell_id, cell_level, figure, device_class, basis, cohort
),

bounds AS (
    SELECT
        c.cell_id,
        LEAST(MAX(k.share_bound), MAX(b.bound)) AS bound
    FROM cells AS c
    CROSS JOIN limits AS k
    INNER JOIN share_bounds AS b ON c.student_count >= b.least_students
    GROUP BY c.cell_id
),

cohorts AS (
    SELECT DISTINCT cohort
    FROM cells
    WHERE cell_level = 'cohort'
),

grid AS (
    SELECT
        cell_id,
        cell_level,
        figure,
        device_class,
        basis,
        CAST(NULL AS VARCHAR) AS cohort
    FROM cells
    WHERE cell_level = 'stratum'
    UNION ALL
    SELECT
        s.cell_id || '/' || REPLACE(REPLACE(c.cohort, '%', '%25'), '/', '%2F') AS cell_id,
        'cohort' AS cell_level,
        s.figure,
        s.device_class,
        s.basis,
        c.cohort
    FROM cells AS s
    CROSS JOIN cohorts AS c
    WHERE s.cell_level = 'stratum'
),

times AS (
    SELECT
        g.*,
        CAST(UNNEST(RANGE(0, CAST(k.share_curve_end_s + 1 AS BIGINT), CAST(k.share_curve_step_s AS BIGINT))) AS DOUBLE) AS after_s
    FROM grid AS g
    CROSS JOIN limits AS k
),

judged AS (
    SELECT
        t.cell_id,
        t.after_s,
        t.cell_level,
        t.figure,
        t.device_class,
        t.basis,
        t.cohort,
        n.student_count,
        c.survival,
        w.cell_id IS NOT NULL OR n.cell_id IS NULL AS is_cell_withheld,
        w.cell_id IS NOT NULL OR n.cell_id IS NULL OR c.students_at_risk < k.share_minimum_students AS is_withheld,
        CASE
            WHEN c.survival >= b.bound THEN ROUND(b.bound, 2) || ' or more'
            WHEN c.survival <= ROUND(1 - b.bound, 6) THEN ROUND(1 - b.bound, 2) || ' or less'
        END AS survival_bound
    FROM times AS t
    CROSS JOIN limits AS k
    LEFT JOIN cells AS n ON t.cell_id = n.cell_id
    LEFT JOIN bounds AS b ON t.cell_id = b.cell_id
    LEFT JOIN share_curves AS c ON t.cell_id = c.cell_id AND t.after_s = c.after_s
    LEFT JOIN withheld_cells AS w ON t.cell_id = w.cell_id
)

SELECT
    cell_id,
    after_s,
    cell_level,
    figure,
    device_class,
    basis,
    cohort,
    is_withheld,
    CASE WHEN NOT is_cell_withheld THEN student_count END AS student_count,
    CASE WHEN NOT is_withheld AND survival_bound IS NULL THEN survival END AS survival,
    CASE WHEN NOT is_withheld THEN survival_bound END AS survival_bound
FROM judged;
