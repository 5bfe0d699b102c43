-- One row is a session without logged vertical speed and the smallest step that its altitude takes. A TABLE: asked several times.
-- Inputs: stored_samples, stored_sessions
-- Grain: session_id, revision
-- Units: altitude_step_ft in feet; null where the altitude never moved
-- Source: the recorder
CREATE OR REPLACE TABLE altitude_steps AS
WITH silent_sessions AS (
    SELECT
        session_id,
        revision
    FROM stored_sessions
    WHERE NOT LIST_CONTAINS(channels, 'vertical_speed_fpm')
),

steps AS (
    SELECT
        p.session_id,
        p.revision,
        ABS(p.altitude_ft - LAG(p.altitude_ft) OVER (PARTITION BY p.session_id, p.revision ORDER BY p.t_ms)) AS step_ft
    FROM stored_samples AS p
    INNER JOIN silent_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
    WHERE p.altitude_ft IS NOT NULL
)

SELECT
    session_id,
    revision,
    CAST(MIN(step_ft) FILTER (WHERE step_ft > 0) AS DOUBLE) AS altitude_step_ft
FROM steps
GROUP BY session_id, revision;
