-- One row is a vertical speed that nobody logged: the slope of the altitude around that time, in a session that logged none.
-- Inputs: stored_samples, stored_sessions, altitude_steps, slow_channels, limits
-- Grain: session_id, revision, t_ms
-- Units: t_ms in milliseconds from the session's start; value in feet per minute
-- Source: least-squares slope over derived_speed_window_s, not across a gap; no rows where the altitude came in steps of coarse_altitude_step_ft
-- or more, whose differences would be noise
CREATE OR REPLACE VIEW derived_speeds AS
WITH fine_altitudes AS (
    SELECT
        p.session_id,
        p.revision,
        p.t_ms,
        CAST(p.altitude_ft AS DOUBLE) AS altitude_ft,
        CAST(l.derived_speed_window_s * 500 AS INTEGER) AS half_window_ms,
        CASE
            WHEN
                p.t_ms - LAG(p.t_ms) OVER (PARTITION BY p.session_id, p.revision ORDER BY p.t_ms)
                > COALESCE(c.gap_limit_ms, FLOOR(ROUND(1000 * s.gap_limit_s, 3)))
                THEN 1
            ELSE 0
        END AS gaps
    FROM stored_samples AS p
    CROSS JOIN limits AS l
    INNER JOIN altitude_steps AS a ON p.session_id = a.session_id AND p.revision = a.revision
    INNER JOIN stored_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
    LEFT JOIN slow_channels AS c ON p.session_id = c.session_id AND p.revision = c.revision AND c.channel = 'altitude'
    WHERE p.altitude_ft IS NOT NULL AND COALESCE(a.altitude_step_ft, 0) < l.coarse_altitude_step_ft
),

stretches AS (
    SELECT
        *,
        SUM(gaps) OVER (PARTITION BY session_id, revision ORDER BY t_ms) AS stretch_no
    FROM fine_altitudes
),

slopes AS (
    SELECT
        session_id,
        revision,
        t_ms,
        60000 * REGR_SLOPE(altitude_ft, t_ms) OVER (
            PARTITION BY session_id, revision, stretch_no
            ORDER BY t_ms
            RANGE BETWEEN half_window_ms PRECEDING AND half_window_ms FOLLOWING
        ) AS value
    FROM stretches
)

SELECT
    session_id,
    revision,
    t_ms,
    value
FROM slopes
WHERE value IS NOT NULL AND NOT ISNAN(value);
