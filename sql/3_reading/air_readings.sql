-- One row is a session and how the air shook the aeroplane, beyond what the student did. A TABLE: read once and kept.
-- Inputs: air_seconds, stored_sessions, altitude_steps
-- Grain: session_id, revision
-- Units: vertical_shake_fpm in ft/min per s2, airspeed_shake_kt in kt per s2 (changes of the change from second to second); seconds is a count
-- Kept: one file beside each samples file
-- Source: ours, on the means of each second: rms of the second difference of vertical speed (logged; else from altitude, over two seconds) that pitch attitude in
-- the same and the two seconds before does not explain (least squares); where pitch was not logged, the pitch control in its place;
-- where neither was, all of it. explained_by says which. airspeed_shake_kt is the rms second difference of airspeed.
CREATE OR REPLACE TABLE air_readings AS
WITH neighbours AS (
    SELECT
        session_id,
        revision,
        LAG(session_id, 4) OVER () = session_id AND LAG(revision, 4) OVER () = revision AND second_no - LAG(second_no, 4) OVER () = 4 AS is_unbroken,
        COALESCE(
            vertical_speed_fpm,
            CASE
                WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision AND LEAD(second_no) OVER () = second_no + 1
                    THEN 30 * (LEAD(altitude_ft) OVER () - LAG(altitude_ft) OVER ())
            END
        ) AS rate_fpm,
        airspeed_kt,
        cause
    FROM air_seconds
),

second_differences AS (
    SELECT
        session_id,
        revision,
        is_unbroken,
        rate_fpm - 2 * LAG(rate_fpm) OVER () + LAG(rate_fpm, 2) OVER () AS y,
        airspeed_kt - 2 * LAG(airspeed_kt) OVER () + LAG(airspeed_kt, 2) OVER () AS airspeed_shake,
        cause - 2 * LAG(cause) OVER () + LAG(cause, 2) OVER () AS x
    FROM neighbours
),

lagged AS (
    SELECT
        session_id,
        revision,
        is_unbroken,
        y,
        airspeed_shake,
        x AS x0,
        LAG(x) OVER () AS x1,
        LAG(x, 2) OVER () AS x2
    FROM second_differences
),

products AS (
    SELECT
        session_id,
        revision,
        COUNT(*) FILTER (WHERE y + x0 + x1 + x2 IS NOT NULL) AS seconds,
        COUNT(airspeed_shake) AS airspeed_seconds,
        AVG(airspeed_shake * airspeed_shake) AS s_air,
        AVG(y * y) FILTER (WHERE x0 + x1 + x2 IS NOT NULL) AS yy,
        AVG(x0 * x0) FILTER (WHERE y + x1 + x2 IS NOT NULL) AS s00,
        AVG(x1 * x1) FILTER (WHERE y + x0 + x2 IS NOT NULL) AS s11,
        AVG(x2 * x2) FILTER (WHERE y + x0 + x1 IS NOT NULL) AS s22,
        AVG(x0 * x1) FILTER (WHERE y + x2 IS NOT NULL) AS s01,
        AVG(x0 * x2) FILTER (WHERE y + x1 IS NOT NULL) AS s02,
        AVG(x1 * x2) FILTER (WHERE y + x0 IS NOT NULL) AS s12,
        AVG(x0 * y) FILTER (WHERE x1 + x2 IS NOT NULL) AS s0y,
        AVG(x1 * y) FILTER (WHERE x0 + x2 IS NOT NULL) AS s1y,
        AVG(x2 * y) FILTER (WHERE x0 + x1 IS NOT NULL) AS s2y
    FROM lagged
    WHERE is_unbroken
    GROUP BY session_id, revision
),

without_first AS (
    SELECT
        *,
        s11 - COALESCE(s01 * s01 / NULLIF(s00, 0), 0) AS r11,
        s12 - COALESCE(s01 * s02 / NULLIF(s00, 0), 0) AS r12,
        s22 - COALESCE(s02 * s02 / NULLIF(s00, 0), 0) AS r22,
        s1y - COALESCE(s01 * s0y / NULLIF(s00, 0), 0) AS r1y,
        s2y - COALESCE(s02 * s0y / NULLIF(s00, 0), 0) AS r2y,
        yy - COALESCE(s0y * s0y / NULLIF(s00, 0), 0) AS ryy
    FROM products
),

without_second AS (
    SELECT
        *,
        r22 - COALESCE(r12 * r12 / NULLIF(r11, 0), 0) AS q22,
        r2y - COALESCE(r12 * r1y / NULLIF(r11, 0), 0) AS q2y,
        ryy - COALESCE(r1y * r1y / NULLIF(r11, 0), 0) AS qyy
    FROM without_first
)

SELECT
    p.session_id,
    p.revision,
    p.seconds,
    CASE
        WHEN LIST_CONTAINS(s.channels, 'pitch_deg') THEN 'pitch attitude'
        WHEN LIST_CONTAINS(s.channels, 'pitch_control') THEN 'pitch control'
    END AS explained_by,
    a.altitude_step_ft,
    CASE WHEN p.seconds > 0 THEN ROUND(SQRT(GREATEST(p.qyy - COALESCE(p.q2y * p.q2y / NULLIF(p.q22, 0), 0), 0)), 6) END AS vertical_shake_fpm,
    p.airspeed_seconds,
    ROUND(SQRT(p.s_air), 6) AS airspeed_shake_kt
FROM without_second AS p
INNER JOIN stored_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
LEFT JOIN altitude_steps AS a ON p.session_id = a.session_id AND p.revision = a.revision
ORDER BY p.session_id, p.revision;
