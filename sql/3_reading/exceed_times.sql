-- One row is how soon, on average, a band would have been left had each moment's rate gone on. A TABLE: read once and kept.
-- Inputs: second_means, channel_sums, slow_channels, maneuver_numbers, band_edges, limits
-- Grain: maneuver_id, channel, tolerance
-- Units: tolerance in the channel's unit; time_to_exceed_s in seconds
-- Kept: one file beside each samples file
-- Source: ours, related to the mean time to exceed tolerance of the literature, whose averaging rule could not be read. Once a second
-- the rate since the second exceed_rate_s earlier (or, where that has no value, the last one before it, no further back than the gap limit)
-- is extrapolated in a straight line; 0 outside the band, at most exceed_cap_s. Seconds without such an earlier value are left out.
CREATE OR REPLACE TABLE exceed_times AS
WITH side_by_side AS (
    SELECT
        now.maneuver_no,
        now.second_no,
        now.altitude_error_ft,
        now.heading_error_deg,
        now.airspeed_kt,
        earlier.altitude_error_ft AS earlier_altitude_error_ft,
        earlier.heading_error_deg AS earlier_heading_error_deg,
        earlier.airspeed_kt AS earlier_airspeed_kt
    FROM second_means AS now
    CROSS JOIN limits AS l
    LEFT JOIN second_means AS earlier
        ON now.maneuver_no = earlier.maneuver_no AND earlier.second_no = now.second_no - CAST(l.exceed_rate_s AS INTEGER)
),

errors AS MATERIALIZED (
    SELECT
        maneuver_no,
        'altitude' AS channel,
        second_no,
        altitude_error_ft AS error,
        earlier_altitude_error_ft AS earlier_error
    FROM side_by_side
    WHERE altitude_error_ft IS NOT NULL
    UNION ALL
    SELECT
        maneuver_no,
        'heading' AS channel,
        second_no,
        heading_error_deg AS error,
        earlier_heading_error_deg AS earlier_error
    FROM side_by_side
    WHERE heading_error_deg IS NOT NULL
    UNION ALL
    SELECT
        maneuver_no,
        'airspeed' AS channel,
        second_no,
        airspeed_kt AS error,
        earlier_airspeed_kt AS earlier_error
    FROM side_by_side
    WHERE airspeed_kt IS NOT NULL
),

firsts AS (
    SELECT
        maneuver_no,
        channel,
        MIN(second_no) AS first_no
    FROM errors
    GROUP BY maneuver_no, channel
),

missing AS (
    SELECT
        e.maneuver_no,
        e.channel,
        e.second_no,
        e.error,
        e.second_no - CAST(l.exceed_rate_s AS INTEGER) AS look_no
    FROM errors AS e
    CROSS JOIN limits AS l
    INNER JOIN firsts AS f ON e.maneuver_no = f.maneuver_no AND e.channel = f.channel
    WHERE e.earlier_error IS NULL AND e.second_no - CAST(l.exceed_rate_s AS INTEGER) >= f.first_no
),

candidates AS (
    SELECT
        e.maneuver_no,
        e.channel,
        e.second_no,
        e.error
    FROM errors AS e
    SEMI JOIN missing AS m ON e.maneuver_no = m.maneuver_no AND e.channel = m.channel
),

pairs AS (
    SELECT
        e.maneuver_no,
        e.channel,
        e.error,
        0 AS late_s,
        (e.error - e.earlier_error) / CAST(l.exceed_rate_s AS INTEGER) AS rate_per_s
    FROM errors AS e
    CROSS JOIN limits AS l
    WHERE e.earlier_error IS NOT NULL
    UNION ALL
    SELECT
        now.maneuver_no,
        now.channel,
        now.error,
        now.look_no - earlier.second_no AS late_s,
        (now.error - earlier.error) / (now.second_no - earlier.second_no) AS rate_per_s
    FROM missing AS now
    ASOF INNER JOIN candidates AS earlier
        ON
            now.maneuver_no = earlier.maneuver_no AND now.channel = earlier.channel
            AND now.look_no >= earlier.second_no
),

channels AS (
    SELECT
        n.maneuver_no,
        s.channel,
        s.reference,
        COALESCE(c.gap_limit_ms, n.gap_limit_ms) AS gap_limit_ms
    FROM maneuver_numbers AS n
    INNER JOIN channel_sums AS s ON n.maneuver_id = s.maneuver_id
    LEFT JOIN slow_channels AS c ON n.session_id = c.session_id AND n.revision = c.revision AND s.channel = c.channel
),

rates AS (
    SELECT
        p.maneuver_no,
        p.channel,
        p.error - s.reference AS error,
        p.rate_per_s
    FROM pairs AS p
    INNER JOIN channels AS s ON p.maneuver_no = s.maneuver_no AND p.channel = s.channel
    WHERE p.late_s * 1000 <= s.gap_limit_ms
),

means AS (
    SELECT
        r.maneuver_no,
        r.channel,
        b.edge,
        AVG(
            CASE
                WHEN ABS(r.error) > b.edge THEN 0
                WHEN r.rate_per_s = 0 THEN l.exceed_cap_s
                ELSE LEAST((b.edge - SIGN(r.rate_per_s) * r.error) / ABS(r.rate_per_s), l.exceed_cap_s)
            END
        ) AS time_to_exceed_s
    FROM rates AS r
    INNER JOIN band_edges AS b ON r.channel = b.channel AND b.edge > 0
    CROSS JOIN limits AS l
    GROUP BY r.maneuver_no, r.channel, b.edge
)

SELECT
    n.maneuver_id,
    m.channel,
    m.edge AS tolerance,
    m.time_to_exceed_s
FROM means AS m
INNER JOIN maneuver_numbers AS n ON m.maneuver_no = n.maneuver_no
ORDER BY m.maneuver_no, m.channel, m.edge;
