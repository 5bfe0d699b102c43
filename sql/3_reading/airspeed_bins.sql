-- One row is a narrow band of airspeeds within a maneuver: the time spent there and its moments about the band's middle. A TABLE: read several times.
-- Inputs: placed_samples, patchy_channels, patchy_observations, limits
-- Grain: maneuver_no, bin_no
-- Units: weight_ms in milliseconds, twice the time spent; the sums in products of that and knots
-- Source: ours; bands of airspeed_bin_kt about its whole multiples
CREATE OR REPLACE TABLE airspeed_bins AS
WITH airspeeds AS (
    SELECT
        p.maneuver_no,
        CAST(p.airspeed_kt AS DOUBLE) AS airspeed_kt,
        COALESCE(p.step_ms, 0) + COALESCE(p.next_step_ms, 0) AS weight_ms
    FROM placed_samples AS p
    ANTI JOIN patchy_channels AS c ON p.maneuver_no = c.maneuver_no AND c.channel = 'airspeed'
    WHERE p.airspeed_kt IS NOT NULL
    UNION ALL
    SELECT
        maneuver_no,
        value AS airspeed_kt,
        COALESCE(step_ms, 0) + COALESCE(next_step_ms, 0) AS weight_ms
    FROM patchy_observations
    WHERE channel = 'airspeed'
),

binned AS (
    SELECT
        a.maneuver_no,
        a.weight_ms,
        CAST(ROUND(a.airspeed_kt / l.airspeed_bin_kt) AS INTEGER) AS bin_no,
        a.airspeed_kt - ROUND(a.airspeed_kt / l.airspeed_bin_kt) * l.airspeed_bin_kt AS off
    FROM airspeeds AS a
    CROSS JOIN limits AS l
)

SELECT
    maneuver_no,
    bin_no,
    SUM(weight_ms) AS weight_ms,
    SUM(weight_ms * off) AS off,
    SUM(weight_ms * ABS(off)) AS off_absolute
FROM binned
GROUP BY maneuver_no, bin_no;
