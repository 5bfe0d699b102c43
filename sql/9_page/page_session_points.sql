-- One row is a session that counts, in one aspect, as the overview draws it; the latest of each student, so many that the page stays quick.
-- Inputs: page_student_sessions, limits
-- Grain: session_id, aspect
-- Units: ratios: 1 is the edge of the standard; weeks_ago in whole weeks, weeks_in since the student started
-- Source: page_student_sessions, thinned to page_points_maximum rows in all by leaving off the oldest sessions of every student alike
CREATE OR REPLACE VIEW page_session_points AS
WITH numbered AS (
    SELECT
        student_id,
        aspect,
        session_id,
        session_date,
        cohort,
        stage,
        device_id,
        tolerance_ratio,
        drawn_ratio,
        maneuver_count,
        weeks_ago,
        weeks_in,
        has_left,
        ROW_NUMBER() OVER (PARTITION BY student_id, aspect ORDER BY ago) AS newest_first
    FROM page_student_sessions
    WHERE is_counted
),

room AS (
    SELECT GREATEST(1, MAX(k.page_points_maximum) // GREATEST(1, COUNT(*))) AS sessions_each
    FROM numbered AS n
    CROSS JOIN limits AS k
    WHERE n.newest_first = 1
)

SELECT
    n.student_id,
    n.aspect,
    n.session_id,
    n.session_date,
    n.cohort,
    n.stage,
    n.device_id,
    ROUND(n.tolerance_ratio, 3) AS tolerance_ratio,
    ROUND(n.drawn_ratio, 3) AS drawn_ratio,
    n.maneuver_count,
    n.weeks_ago,
    n.weeks_in,
    n.has_left
FROM numbered AS n
CROSS JOIN room AS r
WHERE n.newest_first <= r.sessions_each
ORDER BY n.student_id, n.aspect, n.session_date, n.session_id;
