-- One row is a task of a session that counts: what the student was asked to do, and when.
-- Inputs: stored_tasks, sessions
-- Grain: session_id, task_no
-- Units: start_s and end_s in seconds from the session's start; altitude in feet; heading in degrees magnetic
-- Source: tasks/<session_id>.csv of the inbox
CREATE OR REPLACE VIEW tasks AS
SELECT
    t.session_id,
    t.task_no,
    t.start_s,
    t.end_s,
    t.kind,
    t.target_altitude_ft,
    t.target_heading_deg,
    t.flown_by
FROM stored_tasks AS t
INNER JOIN sessions AS s ON t.session_id = s.session_id AND t.revision = s.revision;
