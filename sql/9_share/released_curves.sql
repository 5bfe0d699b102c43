-- One row is a cell of level-offs and power changes at one time after them, as it may be released: the share not yet settled (or set).
-- Inputs: share_curves, event_members, withheld_cells, limits
-- Grain: cell_id, after_s
-- Units: after_s in seconds from the event's start; survival as a fraction
-- Source: share_curves; withheld cells are left out. survival is null with is_withheld once fewer than share_minimum_students students are still
-- followed; a share above share_bound or below 1 - share_bound is told as such only. Censored events are counted as such, never dropped.
CREATE OR REPLACE VIEW released_curves AS
WITH shown AS (
    SELECT
        m.cell_id,
        m.cell_level,
        m.figure,
        m.device_class,
        m.cohort,
        COUNT(DISTINCT m.student_id) AS student_count
    FROM event_members AS m
    LEFT JOIN withheld_cells AS w ON m.cell_id = w.cell_id
    WHERE w.cell_id IS NULL
    GROUP BY m.cell_id, m.cell_level, m.figure, m.device_class, m.cohort
),

bounded AS (
    SELECT
        s.cell_id,
        s.cell_level,
        s.figure,
        s.device_class,
        s.cohort,
        s.student_count,
        c.after_s,
        c.survival,
        c.students_at_risk < k.share_minimum_students AS is_withheld,
        CASE
            WHEN c.students_at_risk < k.share_minimum_students THEN NULL
            WHEN c.survival > k.share_bound THEN 'above ' || ROUND(k.share_bound, 2)
            WHEN c.survival < ROUND(1 - k.share_bound, 6) THEN 'below ' || ROUND(1 - k.share_bound, 2)
        END AS survival_bound
    FROM shown AS s
    INNER JOIN share_curves AS c ON s.cell_id = c.cell_id
    CROSS JOIN limits AS k
)

SELECT
    cell_id,
    after_s,
    cell_level,
    figure,
    device_class,
    cohort,
    student_count,
    is_withheld,
    CASE WHEN NOT is_withheld AND survival_bound IS NULL THEN survival END AS survival,
    survival_bound
FROM bounded;
