-- One row is a student's week as part of one cell: of its stratum (never pooled with another), of the cohort in it, of the cohort's week.
-- Inputs: shared_weeks
-- Grain: cell_id, contribution_id
-- Units: ln_ratio is the natural logarithm of the tolerance ratio (0 is the edge of the standard)
-- Source: ours; cells nest, so that what can be told by subtracting them is known. A week that cannot be numbered is part of no week's cell.
CREATE OR REPLACE VIEW week_members AS
SELECT
    CONCAT_WS(
        '/', w.aspect, w.device_class, w.standard_id, w.basis,
        CASE WHEN v.depth > 1 THEN REPLACE(REPLACE(w.cohort, '%', '%25'), '/', '%2F') END,
        CASE WHEN v.depth > 2 THEN FORMAT('w{:02d}', w.week_no) END
    ) AS cell_id,
    CASE
        WHEN v.depth > 1
            THEN CONCAT_WS('/', w.aspect, w.device_class, w.standard_id, w.basis, CASE WHEN v.depth > 2 THEN REPLACE(REPLACE(w.cohort, '%', '%25'), '/', '%2F') END)
    END AS parent_cell_id,
    v.cell_level,
    w.aspect,
    w.device_class,
    w.standard_id,
    w.basis,
    CASE WHEN v.depth > 1 THEN w.cohort END AS cohort,
    CASE WHEN v.depth > 2 THEN w.week_no END AS week_no,
    w.student_id,
    w.contribution_id,
    w.ln_ratio,
    w.is_met
FROM shared_weeks AS w
CROSS JOIN (VALUES (1, 'stratum'), (2, 'cohort'), (3, 'week')) AS v (depth, cell_level)
WHERE v.depth < 3 OR w.week_no IS NOT NULL;
