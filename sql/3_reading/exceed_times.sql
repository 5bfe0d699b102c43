-- One row is how soon, on average, a band would have been left had each moment's rate gone on. A TABLE: read once and kept.
-- Inputs: second_means, channel_sums, slow_channels, maneuver_windows, band_edges, limits
-- Grain: maneuver_id, channel, tolerance
-- Units: tolerance in the channel's unit; time_to_exceed_s in seconds
-- Kept: one file beside each samples file
-- Source: ours, related to the mean time to exceed tolerance of the literature, whose averaging rule could not be read. Once a second
-- the rate since the second exceed_rate_s earlier (or, where that has no value, the last one before it, no further back than the gap limit)
-- is extrapolated in a straight line; 0 outside the band, at most exceed_cap_s. Seconds without such an earlier value are left out.
CREATE OR REPLACE TABLE exceed_times AS
WITH errors AS (
    SELECT
        maneuver_id,
        'altitude' AS channel,
        second_no,
        altitude_error_ft AS error
    FROM second_means
    WHERE altitude_error_ft IS NOT NULL
    UNION ALL
    SELECT
        maneuver_id,
        'heading' AS channel,
        second_no,
        heading_error_deg AS error
    FROM second_means
    WHERE heading_error_deg IS NOT NULL
    UNION ALL
    SELECT
        maneuver_id,
        'airspeed' AS channel,
        second_no,
        airspeed_kt AS error
    FROM second_means
    WHERE airspeed_kt IS NOT NULL
),

looks AS (
    SELECT
        e.maneuver_id,
        e.channel,
        e.second_no,
        e.error,
        e.second_no - CAST(l.exceed_rate_s AS INTEGER) AS look_no
    FROM errors AS e
    CROSS JOIN limits AS l
),

pairs AS (
    SELECT
        now.maneuver_id,
        now.channel,
        now.error,
        now.look_no - earlier.second_no AS late_s,
        (now.error - earlier.error) / (now.second_no - earlier.second_no) AS rate_per_s
    FROM looks AS now
    ASOF INNER JOIN errors AS earlier
        ON
            now.maneuver_id = earlier.maneuver_id AND now.channel = earlier.channel
            AND now.look_no >= earlier.second_no
),

rates AS (
    SELECT
        p.maneuver_id,
        p.channel,
        p.error - s.reference AS error,
        p.rate_per_s
    FROM pairs AS p
    INNER JOIN maneuver_windows AS w ON p.maneuver_id = w.maneuver_id
    INNER JOIN channel_sums AS s ON p.maneuver_id = s.maneuver_id AND p.channel = s.channel
    LEFT JOIN slow_channels AS c ON w.session_id = c.session_id AND w.revision = c.revision AND p.channel = c.channel
    WHERE p.late_s * 1000 <= COALESCE(c.gap_limit_ms, w.gap_limit_ms)
)

SELECT
    r.maneuver_id,
    r.channel,
    b.edge AS tolerance,
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
GROUP BY r.maneuver_id, r.channel, b.edge
ORDER BY r.maneuver_id, r.channel, b.edge;
