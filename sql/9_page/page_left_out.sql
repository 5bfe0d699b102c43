-- One row is a reason for which flights do not count, and how many sessions and single level maneuvers it keeps out of each aspect.
-- Inputs: exclusions, session_figures
-- Grain: reason
-- Units: counts of sessions, single maneuvers (of sessions that count otherwise) and students
-- Source: exclusions, and sessions without any level maneuver; reasons that differ by a device, a figure or an instructor's note only are told as one
CREATE OR REPLACE VIEW page_left_out AS
WITH told AS (
    SELECT
        student_id,
        aspect,
        session_id,
        maneuver_id,
        reason
    FROM exclusions
    UNION ALL
    SELECT
        student_id,
        aspect,
        session_id,
        CAST(NULL AS VARCHAR) AS maneuver_id,
        COALESCE(figure_reason, 'no level maneuver in the session') AS reason
    FROM session_figures
    WHERE level_count = 0
),

grouped AS (
    SELECT
        student_id,
        aspect,
        session_id,
        maneuver_id,
        CASE
            WHEN reason LIKE 'the neutral of device % is known only to %' THEN 'where the control rests (its neutral) is not known closely enough'
            WHEN reason LIKE 'no neutral: %' THEN 'where the control rests (its neutral) is not known: ' || SUBSTR(reason, 13)
            WHEN reason LIKE 'set aside by an instructor: %' THEN 'set aside by an instructor'
            ELSE reason
        END AS reason
    FROM told
)

SELECT
    reason,
    COUNT(DISTINCT session_id) FILTER (WHERE aspect = 'altitude' AND maneuver_id IS NULL) AS altitude_sessions,
    COUNT(DISTINCT session_id) FILTER (WHERE aspect = 'heading' AND maneuver_id IS NULL) AS heading_sessions,
    COUNT(DISTINCT session_id) FILTER (WHERE aspect = 'trim' AND maneuver_id IS NULL) AS trim_sessions,
    COUNT(DISTINCT maneuver_id) FILTER (WHERE aspect = 'altitude') AS altitude_maneuvers,
    COUNT(DISTINCT maneuver_id) FILTER (WHERE aspect = 'heading') AS heading_maneuvers,
    COUNT(DISTINCT maneuver_id) FILTER (WHERE aspect = 'trim') AS trim_maneuvers,
    COUNT(DISTINCT student_id) AS student_count
FROM grouped
GROUP BY reason
ORDER BY COUNT(DISTINCT session_id) FILTER (WHERE maneuver_id IS NULL) DESC, COUNT(DISTINCT maneuver_id) DESC, reason;
