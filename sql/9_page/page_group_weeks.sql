-- One row is a group of students (by cohort, stage, lesson or device) in one aspect and week since they started, as the cohorts page draws it.
-- Inputs: group_curves, limits
-- Grain: grouping, group_value, device_class, aspect, week
-- Units: median, q1, q3: tolerance ratios, 1 is the edge of the standard; week from 1
-- Source: group_curves by week, rounded; groups held to the same standards share a panel_no and are drawn together;
-- the latest weeks, so many that page_points_maximum rows are not exceeded
CREATE OR REPLACE VIEW page_group_weeks AS
WITH numbered AS (
    SELECT
        grouping,
        group_value,
        device_class,
        aspect,
        step,
        median,
        q1,
        q3,
        student_count,
        standards,
        DENSE_RANK() OVER (PARTITION BY grouping, device_class, aspect ORDER BY COALESCE(standards, '')) AS panel_no,
        ROW_NUMBER() OVER (ORDER BY step DESC, grouping, group_value, device_class, aspect) AS place
    FROM group_curves
    WHERE axis = 'week'
)

SELECT
    n.grouping,
    n.group_value,
    n.device_class,
    n.aspect,
    n.step AS week,
    ROUND(n.median, 3) AS median,
    ROUND(n.q1, 3) AS q1,
    ROUND(n.q3, 3) AS q3,
    n.student_count,
    n.standards,
    n.panel_no
FROM numbered AS n
CROSS JOIN limits AS k
WHERE n.place <= k.page_points_maximum
ORDER BY n.grouping, n.group_value, n.device_class, n.aspect, n.step;
