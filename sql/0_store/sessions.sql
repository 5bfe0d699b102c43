-- One row is a session that counts: its newest revision, not withdrawn, with what roster and device list say of it.
-- A TABLE: nearly every other relation reads it.
-- Inputs: stored_sessions, students, devices, reviews
-- Grain: session_id
-- Units: durations in seconds; started_at in UTC; session_date is the UTC date of started_at
-- Source: sessions.csv of the inbox; a reassigned session counts for the student it was reassigned to
CREATE OR REPLACE TABLE sessions AS
WITH newest_revisions AS (
    SELECT *
    FROM stored_sessions
    QUALIFY ROW_NUMBER() OVER (PARTITION BY session_id ORDER BY revision DESC, batch_id DESC) = 1
),

withdrawn AS (
    SELECT DISTINCT session_id
    FROM reviews
    WHERE kind = 'withdraw'
),

reassigned AS (
    SELECT
        session_id,
        ARG_MAX(student_id, made_at) AS student_id
    FROM reviews
    WHERE kind = 'reassign'
    GROUP BY session_id
),

device_rows AS (
    SELECT
        s.session_id,
        d.device_class,
        d.control
    FROM newest_revisions AS s
    INNER JOIN devices AS d ON s.device_id = d.device_id AND s.session_date >= COALESCE(d.valid_from, DATE '1900-01-01')
    QUALIFY ROW_NUMBER() OVER (PARTITION BY s.session_id ORDER BY d.valid_from DESC NULLS LAST) = 1
)

SELECT
    s.session_id,
    COALESCE(r.student_id, s.student_id) AS student_id,
    p.cohort,
    p.stage,
    s.session_date,
    s.started_at,
    s.device_id,
    COALESCE(d.device_class, 'simulator') AS device_class,
    COALESCE(d.control, 'centring') AS control,
    s.aircraft_type,
    s.instructor_id,
    s.lesson,
    s.air,
    s.recorder,
    s.revision,
    s.batch_id,
    s.duration_s,
    s.sample_count,
    s.median_step_s,
    s.gap_limit_s,
    s.observed_s,
    s.log_name,
    s.log_sha256,
    s.row_sha256,
    s.tasks_sha256,
    s.channels,
    s.sparse_channels,
    s.gates
FROM newest_revisions AS s
LEFT JOIN withdrawn AS w ON s.session_id = w.session_id
LEFT JOIN reassigned AS r ON s.session_id = r.session_id
LEFT JOIN students AS p ON COALESCE(r.student_id, s.student_id) = p.student_id
LEFT JOIN device_rows AS d ON s.session_id = d.session_id
WHERE w.session_id IS NULL;
