-- One row is a cell of released_cells with the aspects side by side, one row for each standard that altitude and heading are held to.
-- Inputs: released_cells
-- Grain: row_id
-- Units: tolerance ratios, 1 is the edge of the standard; shares as fractions
-- Source: released_cells, turned; nothing in it that is not there. Null where the cell is withheld, or tells its share as a bound only.
CREATE OR REPLACE VIEW released_cells_wide AS
WITH standards_flown AS (
    SELECT *
    FROM released_cells
    WHERE aspect = 'altitude'
)

SELECT
    SUBSTR(a.cell_id, LENGTH('altitude/') + 1) AS row_id,
    a.cell_level,
    a.device_class,
    a.standard_id,
    a.cohort,
    a.week_no,
    a.student_count AS altitude_students,
    a.median AS altitude_median,
    a.met_share AS altitude_met_share,
    h.student_count AS heading_students,
    h.median AS heading_median,
    h.met_share AS heading_met_share,
    t.student_count AS trim_students,
    t.median AS trim_median,
    t.met_share AS trim_met_share
FROM standards_flown AS a
LEFT JOIN released_cells AS h
    ON
        h.aspect = 'heading'
        AND a.cell_level = h.cell_level
        AND a.device_class = h.device_class
        AND a.standard_id = h.standard_id
        AND a.cohort IS NOT DISTINCT FROM h.cohort
        AND a.week_no IS NOT DISTINCT FROM h.week_no
LEFT JOIN released_cells AS t
    ON
        t.aspect = 'trim'
        AND a.cell_level = t.cell_level
        AND a.device_class = t.device_class
        AND a.cohort IS NOT DISTINCT FROM t.cohort
        AND a.week_no IS NOT DISTINCT FROM t.week_no;
