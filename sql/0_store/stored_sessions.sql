-- One row is a landed session, every revision, as it was stored; a file here is what commits a batch.
-- Inputs: none (files under sessions/)
-- Grain: session_id, revision
-- Units: durations in seconds; started_at in UTC
-- Source: sessions.csv of the inbox and what landing found in the log
CREATE OR REPLACE VIEW stored_sessions AS
SELECT
    session_id,
    revision,
    batch_id,
    student_id,
    session_date,
    started_at,
    device_id,
    aircraft_type,
    instructor_id,
    lesson,
    air,
    recorder,
    duration_s,
    sample_count,
    median_step_s,
    gap_limit_s,
    observed_s,
    log_name,
    log_sha256,
    row_sha256,
    tasks_sha256,
    channels,
    sparse_channels,
    gates
FROM READ_PARQUET('sessions/*.parquet');
