-- One row is one second of a session that is searched for maneuvers, on the grid that the search works on.
-- A TABLE: the samples are read once here.
-- Inputs: stored_samples, untasked_sessions, session_breaks, limits
-- Grain: session_id, revision, second_no
-- Units: second_no in whole seconds from the session's start; heading_deg in degrees without bounds: unwrapped along time
-- Source: means of the samples of each second (headings by their directions, so that north does no harm). Seconds of a pause, on the
-- ground or slower than inferred_flying_kt are left out. stretch_no counts what ended a stretch so far: a break, or more than inferred_gap_s left out.
CREATE OR REPLACE TABLE session_seconds AS
WITH means AS (
    SELECT
        p.session_id,
        p.revision,
        CAST(FLOOR(p.t_ms / 1000) AS INTEGER) AS second_no,
        MIN(p.t_ms) AS first_ms,
        CAST(AVG(p.altitude_ft) AS DOUBLE) AS altitude_ft,
        DEGREES(
            ATAN2(
                AVG(SIN(RADIANS(CAST(p.heading_deg AS DOUBLE)))),
                AVG(COS(RADIANS(CAST(p.heading_deg AS DOUBLE))))
            )
        ) AS heading_deg,
        CAST(AVG(p.airspeed_kt) AS DOUBLE) AS airspeed_kt,
        CAST(AVG(p.power) AS DOUBLE) AS power,
        COALESCE(BOOL_OR(p.on_ground), FALSE) AS is_on_ground
    FROM stored_samples AS p
    INNER JOIN untasked_sessions AS u ON p.session_id = u.session_id AND p.revision = u.revision
    GROUP BY p.session_id, p.revision, second_no
),

flying AS (
    SELECT
        m.*,
        COUNT(b.from_ms) AS breaks
    FROM means AS m
    CROSS JOIN limits AS l
    LEFT JOIN session_breaks AS b
        ON m.session_id = b.session_id AND m.revision = b.revision AND b.to_ms <= m.first_ms
    WHERE NOT m.is_on_ground AND COALESCE(m.airspeed_kt >= l.inferred_flying_kt, TRUE) AND m.altitude_ft IS NOT NULL
    GROUP BY ALL
),

moving AS (
    SELECT f.*
    FROM flying AS f
    ANTI JOIN session_breaks AS b
        ON
            f.session_id = b.session_id AND f.revision = b.revision AND b.break_kind = 'pause'
            AND f.first_ms >= b.from_ms AND f.first_ms < b.to_ms
),

steps AS (
    SELECT
        v.session_id,
        v.revision,
        v.second_no,
        v.altitude_ft,
        v.heading_deg,
        v.airspeed_kt,
        v.power,
        COALESCE(
            v.breaks > LAG(v.breaks) OVER by_time
            OR v.second_no - LAG(v.second_no) OVER by_time > l.inferred_gap_s,
            FALSE
        ) AS is_broken,
        CASE
            WHEN v.heading_deg - LAG(v.heading_deg) OVER by_time <= -180 THEN 1
            WHEN v.heading_deg - LAG(v.heading_deg) OVER by_time > 180 THEN -1
            ELSE 0
        END AS passed_south
    FROM moving AS v
    CROSS JOIN limits AS l
    WINDOW by_time AS (PARTITION BY v.session_id, v.revision ORDER BY v.second_no)
)

SELECT
    session_id,
    revision,
    second_no,
    CAST(SUM(CASE WHEN is_broken THEN 1 ELSE 0 END) OVER so_far AS INTEGER) AS stretch_no,
    altitude_ft,
    heading_deg + 360 * CAST(SUM(passed_south) OVER so_far AS INTEGER) AS heading_deg,
    airspeed_kt,
    power
FROM steps
WINDOW so_far AS (PARTITION BY session_id, revision ORDER BY second_no)
ORDER BY session_id, revision, second_no;
