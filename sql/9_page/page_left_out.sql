-- One row is a reason for which level flight does not count, and how much of it there is.
-- Inputs: exclusions
-- Grain: aspect, reason
-- Units: counts of sessions, single maneuvers and students
-- Source: exclusions, counted
CREATE OR REPLACE VIEW page_left_out AS
SELECT
    aspect,
    reason,
    COUNT(*) FILTER (WHERE maneuver_id IS NULL) AS session_count,
    COUNT(*) FILTER (WHERE maneuver_id IS NOT NULL) AS maneuver_count,
    COUNT(DISTINCT student_id) AS student_count
FROM exclusions
GROUP BY aspect, reason
ORDER BY aspect, session_count DESC, maneuver_count DESC, reason;
