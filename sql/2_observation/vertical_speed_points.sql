-- One row is a vertical speed with its neighbours in time: logged, or, in a session that logged none, the slope of the altitude around that time.
-- Inputs: stored_samples, derived_speeds
-- Grain: session_id, revision, t_ms
-- Units: times in milliseconds from the session's start; value in feet per minute
-- Source: the recorder, else derived_speeds
CREATE OR REPLACE VIEW vertical_speed_points AS
SELECT
    session_id,
    revision,
    t_ms,
    CAST(vertical_speed_fpm AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(vertical_speed_fpm) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE vertical_speed_fpm IS NOT NULL
UNION ALL
SELECT
    session_id,
    revision,
    t_ms,
    value,
    LAG(t_ms) OVER by_time AS previous_ms,
    LAG(value) OVER by_time AS previous_value,
    LEAD(t_ms) OVER by_time AS next_ms
FROM derived_speeds
WINDOW by_time AS (PARTITION BY session_id, revision ORDER BY t_ms);
