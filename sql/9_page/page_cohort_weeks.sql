-- One row is a cohort in one aspect and week since its students started, as charts draw it.
-- Inputs: cohort_trends, limits
-- Grain: cohort, aspect, week
-- Units: median, q1, q3: tolerance ratios, 1 is the edge of the standard; shares from 0 to 1; week from 1; weeks_ago counts back from the cohort's latest
-- Source: cohort_trends, rounded; cohorts held to the same standards share a panel_no and are drawn together; weeks older than page_weeks_maximum are left off
CREATE OR REPLACE VIEW page_cohort_weeks AS
WITH placed AS (
    SELECT
        cohort,
        aspect,
        week,
        MAX(week) OVER (PARTITION BY cohort) - week AS weeks_ago,
        device_class,
        median,
        q1,
        q3,
        student_count,
        met_students,
        met_share,
        met_low,
        met_high,
        standards
    FROM cohort_trends
)

SELECT
    p.cohort,
    p.aspect,
    p.week,
    p.weeks_ago,
    p.device_class,
    ROUND(p.median, 3) AS median,
    ROUND(p.q1, 3) AS q1,
    ROUND(p.q3, 3) AS q3,
    p.student_count,
    p.met_students,
    ROUND(p.met_share, 4) AS met_share,
    ROUND(p.met_low, 4) AS met_low,
    ROUND(p.met_high, 4) AS met_high,
    p.standards,
    DENSE_RANK() OVER (PARTITION BY p.aspect ORDER BY COALESCE(p.standards, '')) AS panel_no
FROM placed AS p
CROSS JOIN limits AS k
WHERE p.weeks_ago < k.page_weeks_maximum
ORDER BY p.aspect, p.cohort, p.week;
