-- One row is how soon, on average, a band would have been left had each moment's rate gone on. A TABLE: read once and kept.
-- Inputs: second_means, channel_sums, band_edges, limits
-- Grain: maneuver_id, channel, tolerance
-- Units: tolerance in the channel's unit; time_to_exceed_s in seconds
-- Kept: one file beside each samples file
-- Source: ours, related to the mean time to exceed tolerance of the literature, whose averaging rule could not be read. Once a second
-- the rate of the last exceed_rate_s is extrapolated in a straight line; 0 outside the band, at most exceed_cap_s. Seconds
-- without a value exceed_rate_s earlier are left out.
CREATE OR REPLACE TABLE exceed_times AS
WITH errors AS (
    SELECT
        maneuver_id,
        'altitude' AS channel,
        second_no,
        altitude_error_ft AS error
    FROM second_means
    UNION ALL
    SELECT
        maneuver_id,
        'heading' AS channel,
        second_no,
        heading_error_deg AS error
    FROM second_means
    UNION ALL
    SELECT
        maneuver_id,
        'airspeed' AS channel,
        second_no,
        airspeed_kt AS error
    FROM second_means
),

rates AS (
    SELECT
        now.maneuver_id,
        now.channel,
        now.error - s.reference AS error,
        (now.error - earlier.error) / l.exceed_rate_s AS rate_per_s
    FROM errors AS now
    CROSS JOIN limits AS l
    INNER JOIN errors AS earlier
        ON
            now.maneuver_id = earlier.maneuver_id AND now.channel = earlier.channel
            AND earlier.second_no = now.second_no - CAST(l.exceed_rate_s AS INTEGER)
    INNER JOIN channel_sums AS s ON now.maneuver_id = s.maneuver_id AND now.channel = s.channel
    WHERE now.error IS NOT NULL AND earlier.error IS NOT NULL
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
