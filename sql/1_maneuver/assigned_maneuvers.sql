-- One row is a maneuver that the instructor asked for: a task of a landed session, every revision.
-- Inputs: stored_tasks
-- Grain: maneuver_id
-- Units: start_s and end_s in seconds from the session's start; altitude in feet; heading in degrees magnetic
-- Source: tasks/<session_id>.csv of the inbox
CREATE OR REPLACE VIEW assigned_maneuvers AS
SELECT
    FORMAT('{}.{}.{:02d}', session_id, revision, task_no) AS maneuver_id,
    session_id,
    revision,
    kind,
    'assigned' AS basis,
    start_s,
    end_s,
    target_altitude_ft,
    target_heading_deg,
    flown_by
FROM stored_tasks;
