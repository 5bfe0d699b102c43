-- One row is a standing flag with how many sessions stand behind it, those since it was raised told apart from all.
-- Inputs: flags, page_student_sessions
-- Grain: student_id, aspect
-- Units: counts in sessions; maneuver_count in level maneuvers
-- Source: page_student_sessions of the flag's stratum that count; sessions_since from since_date on, the raising one included;
-- maneuver_count: level maneuvers of all those sessions
CREATE OR REPLACE VIEW page_findings AS
SELECT
    f.student_id,
    f.aspect,
    f.since_date,
    f.session_no AS sessions_counted,
    COUNT(*) FILTER (WHERE s.session_date >= f.since_date) AS sessions_since,
    CAST(SUM(s.maneuver_count) AS BIGINT) AS maneuver_count
FROM flags AS f
INNER JOIN page_student_sessions AS s
    ON
        f.student_id = s.student_id
        AND f.aspect = s.aspect
        AND f.stratum = s.stratum
        AND s.is_counted
GROUP BY f.student_id, f.aspect, f.since_date, f.session_no
ORDER BY f.student_id, f.aspect;
