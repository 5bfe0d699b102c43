-- One row is a cell that an export lists, whether anybody is in it or not: every cohort in every stratum, every week in every cohort.
-- Inputs: share_cells, withheld_cells
-- Grain: cell_id
-- Units: week_no in weeks from the student's start
-- Source: ours; so that a cell that is listed does not tell that anybody flew. Weeks go up to the last that has a cell which may be shown.
CREATE OR REPLACE VIEW cell_grid AS
WITH strata AS (
    SELECT
        aspect,
        device_class,
        standard_id,
        basis,
        cell_id AS stratum_id
    FROM share_cells
    WHERE cell_level = 'stratum'
),

cohorts AS (
    SELECT DISTINCT cohort
    FROM share_cells
    WHERE cell_level = 'cohort'
),

last_week AS (
    SELECT MAX(c.week_no) AS week_no
    FROM share_cells AS c
    LEFT JOIN withheld_cells AS w ON c.cell_id = w.cell_id
    WHERE w.cell_id IS NULL
),

weeks AS (
    SELECT UNNEST(RANGE(1, l.week_no + 1)) AS week_no
    FROM last_week AS l
),

cohort_cells AS (
    SELECT
        s.stratum_id || '/' || REPLACE(REPLACE(c.cohort, '%', '%25'), '/', '%2F') AS cell_id,
        s.aspect,
        s.device_class,
        s.standard_id,
        s.basis,
        c.cohort
    FROM strata AS s
    CROSS JOIN cohorts AS c
)

SELECT
    stratum_id AS cell_id,
    'stratum' AS cell_level,
    aspect,
    device_class,
    standard_id,
    basis,
    CAST(NULL AS VARCHAR) AS cohort,
    CAST(NULL AS INTEGER) AS week_no
FROM strata
UNION ALL
SELECT
    cell_id,
    'cohort' AS cell_level,
    aspect,
    device_class,
    standard_id,
    basis,
    cohort,
    NULL AS week_no
FROM cohort_cells
UNION ALL
SELECT
    FORMAT('{}/w{:02d}', c.cell_id, w.week_no) AS cell_id,
    'week' AS cell_level,
    c.aspect,
    c.device_class,
    c.standard_id,
    c.basis,
    c.cohort,
    CAST(w.week_no AS INTEGER) AS week_no
FROM cohort_cells AS c
CROSS JOIN weeks AS w;
