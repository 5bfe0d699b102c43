-- One row is a standing flag with how many sessions stand behind it, those since it was raised told apart from all, and since when it has been so.
-- Inputs: flags, page_student_sessions
-- Grain: student_id, aspect
-- Units: counts in sessions; maneuver_count in level maneuvers; dates are session dates
-- Source: page_student_sessions of the flag's stratum that count; sessions_since from since_date on, the raising one included;
-- maneuver_count: level maneuvers of all those sessions. outside_from_date: the first session after the last one, before the flag was raised, at
-- which the student was more likely inside than outside; is_outside_from_first where there was none such
CREATE OR REPLACE VIEW page_findings AS
WITH counted AS (
    SELECT
        f.student_id,
        f.aspect,
        f.since_date,
        f.session_no,
        s.session_date,
        s.maneuver_count,
        MAX(s.session_date) FILTER (WHERE s.p_not_met <= 0.5 AND s.session_date < f.since_date) OVER own AS last_inside_date
    FROM flags AS f
    INNER JOIN page_student_sessions AS s
        ON
            f.student_id = s.student_id
            AND f.aspect = s.aspect
            AND f.stratum = s.stratum
            AND s.is_counted
    WINDOW own AS (PARTITION BY f.student_id, f.aspect)
)

SELECT
    student_id,
    aspect,
    since_date,
    session_no AS sessions_counted,
    COUNT(*) FILTER (WHERE session_date >= since_date) AS sessions_since,
    CAST(SUM(maneuver_count) AS BIGINT) AS maneuver_count,
    MIN(session_date) FILTER (WHERE last_inside_date IS NULL OR session_date > last_inside_date) AS outside_from_date,
    BOOL_AND(last_inside_date IS NULL) AS is_outside_from_first
FROM counted
GROUP BY student_id, aspect, since_date, session_no
ORDER BY student_id, aspect;
