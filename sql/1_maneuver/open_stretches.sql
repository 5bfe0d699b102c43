-- One row is a stretch of a session's log that no task covers.
-- Inputs: stored_samples, stored_tasks
-- Grain: session_id, revision, start_s
-- Units: start_s and end_s in seconds from the session's start
-- Source: ours; a session without tasks is one open stretch, from the second of its first sample to a second past its last: a recorder may begin long
-- before or after the session
CREATE OR REPLACE VIEW open_stretches AS
WITH logs AS (
    SELECT
        session_id,
        revision,
        FLOOR(MIN(t_ms) / 1000) AS first_s,
        MAX(t_ms) / 1000 + 1 AS last_s
    FROM stored_samples
    GROUP BY session_id, revision
),

edges AS (
    SELECT
        t.session_id,
        t.revision,
        l.first_s,
        t.start_s,
        t.end_s
    FROM stored_tasks AS t
    INNER JOIN logs AS l ON t.session_id = l.session_id AND t.revision = l.revision
    UNION ALL
    SELECT
        session_id,
        revision,
        first_s,
        last_s AS start_s,
        last_s AS end_s
    FROM logs
),

stretches AS (
    SELECT
        session_id,
        revision,
        GREATEST(
            first_s,
            MAX(end_s) OVER (
                PARTITION BY session_id, revision
                ORDER BY start_s, end_s
                ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            )
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
