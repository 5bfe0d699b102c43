-- One row is a stretch of a session that no task covers.
-- Inputs: stored_sessions, stored_tasks
-- Grain: session_id, revision, start_s
-- Units: start_s and end_s in seconds from the session's start
-- Source: ours; a session without tasks is one open stretch
CREATE OR REPLACE VIEW open_stretches AS
WITH edges AS (
    SELECT
        session_id,
        revision,
        start_s,
        end_s
    FROM stored_tasks
    UNION ALL
    SELECT
        session_id,
        revision,
        duration_s + 1 AS start_s,
        duration_s + 1 AS end_s
    FROM stored_sessions
),

stretches AS (
    SELECT
        session_id,
        revision,
        COALESCE(
            MAX(end_s) OVER (
                PARTITION BY session_id, revision
                ORDER BY start_s, end_s
                ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ),
            0
        ) AS start_s,
        start_s AS end_s
    FROM edges
)

SELECT
    session_id,
    revision,
    start_s,
    end_s
FROM stretches
WHERE end_s > start_s;
