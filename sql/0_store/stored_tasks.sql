-- One row is an accepted task of a landed session, every revision, as it was stored.
-- Inputs: none (files under tasks/)
-- Grain: session_id, revision, task_no
-- Units: start_s and end_s in seconds from the session's start; altitude in feet; heading in degrees magnetic
-- Source: tasks/<session_id>.csv of the inbox; flown_by is student unless the school said otherwise
CREATE OR REPLACE VIEW stored_tasks AS
SELECT
    session_id,
    revision,
    task_no,
    start_s,
    end_s,
    kind,
    target_altitude_ft,
    target_heading_deg,
    flown_by
FROM READ_PARQUET('tasks/*.parquet');
