-- One row is a cell of released_cells with the aspects side by side, one row for each standard that altitude and heading are held to.
-- Inputs: released_cells
-- Grain: row_id
-- Units: tolerance ratios, 1 is the edge of the standard; shares as fractions
-- Source: released_cells, turned; nothing in it that is not there. Null where the aspect's cell is withheld (or there is none), or tells its share as a bound only.
CREATE OR REPLACE VIEW released_cells_wide AS
WITH rows_flown AS (
    SELECT DISTINCT
        SUBSTR(cell_id, LENGTH(aspect) + 2) AS row_id,
        cell_level,
        device_class,
        standard_id,
        basis,
        cohort,
        week_no
    FROM released_cells
    WHERE aspect <> 'trim'
)

SELECT
    r.row_id,
    r.cell_level,
    r.device_class,
    r.standard_id,
    r.basis,
    r.cohort,
    r.week_no,
    COALESCE(a.is_withheld, TRUE) AS is_altitude_withheld,
    a.student_count AS altitude_students,
    a.median AS altitude_median,
    a.met_share AS altitude_met_share,
    a.met_share_bound AS altitude_met_share_bound,
    COALESCE(h.is_withheld, TRUE) AS is_heading_withheld,
    h.student_count AS heading_students,
    h.median AS heading_median,
    h.met_share AS heading_met_share,
    h.met_share_bound AS heading_met_share_bound,
    COALESCE(t.is_withheld, TRUE) AS is_trim_withheld,
    t.student_count AS trim_students,
    t.median AS trim_median,
    t.met_share AS trim_met_share,
    t.met_share_bound AS trim_met_share_bound
FROM rows_flown AS r
LEFT JOIN released_cells AS a ON 'altitude/' || r.row_id = a.cell_id
LEFT JOIN released_cells AS h ON 'heading/' || r.row_id = h.cell_id
LEFT JOIN released_cells AS t
    ON
        t.aspect = 'trim'
        AND r.cell_level = t.cell_level
        AND r.device_class = t.device_class
        AND r.basis = t.basis
        AND r.cohort IS NOT DISTINCT FROM t.cohort
        AND r.week_no IS NOT DISTINCT FROM t.week_no;
