-- One row is how a cohort flew in one week since its students started, in the device class that it has flown most.
-- Inputs: group_curves, cohort_classes
-- Grain: cohort, aspect, week
-- Units: median, q1, q3 of tolerance ratios: 1 is the edge of each student's standard; shares from 0 to 1; week from 1
-- Source: group_curves; the other device class is told there
CREATE OR REPLACE VIEW cohort_trends AS
SELECT
    c.group_value AS cohort,
    c.aspect,
    c.step AS week,
    c.device_class,
    c.median,
    c.q1,
    c.q3,
    c.student_count,
    c.met_students,
    c.met_share,
    c.met_low,
    c.met_high,
    c.standards
FROM group_curves AS c
INNER JOIN cohort_classes AS m ON c.group_value = m.cohort AND c.device_class = m.device_class
WHERE c.grouping = 'cohort' AND c.axis = 'week'
ORDER BY c.group_value, c.aspect, c.step;
