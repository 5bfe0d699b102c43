-- One row is a narrow band of one channel's values within a maneuver: the time spent there and its moments about the band's middle.
-- A TABLE: the samples are read once here.
-- Inputs: observations, limits
-- Grain: maneuver_id, channel, bin_no
-- Units: bin_width in the channel's unit; weight_s in seconds; the sums in products of seconds and the channel's unit
-- Source: ours; moments about a near value keep the digits that sums of squares of raw values lose. Channels of which no
-- quantile is read have wide bins, for the moments' sake only.
CREATE OR REPLACE TABLE channel_bins AS
WITH widths AS (
    SELECT
        'altitude' AS channel,
        altitude_bin_ft AS bin_width
    FROM limits
    UNION ALL
    SELECT
        'heading' AS channel,
        heading_bin_deg AS bin_width
    FROM limits
    UNION ALL
    SELECT
        'airspeed' AS channel,
        airspeed_bin_kt AS bin_width
    FROM limits
    UNION ALL
    SELECT
        channel,
        CAST(bin_width AS DOUBLE) AS bin_width
    FROM (
        VALUES
        ('vertical_speed', 128.0),
        ('bank', 8.0),
        ('pitch_force', 16.0),
        ('pitch_control', 0.5),
        ('roll_control', 0.5)
    ) AS moments_only (channel, bin_width)
),

binned AS (
    SELECT
        o.maneuver_id,
        o.channel,
        w.bin_width AS bin_width,
        CAST(ROUND(o.value / w.bin_width) AS BIGINT) AS bin_no,
        o.value,
        o.value - ROUND(o.value / w.bin_width) * w.bin_width AS offset_value,
        o.since_start_s,
        o.weight_s
    FROM observations AS o
    INNER JOIN widths AS w ON o.channel = w.channel
)

SELECT
    maneuver_id,
    channel,
    bin_width,
    bin_no,
    COUNT(*) AS sample_count,
    MIN(value) AS low,
    MAX(value) AS high,
    SUM(weight_s) AS weight_s,
    SUM(weight_s * offset_value) AS sum_offset,
    SUM(weight_s * offset_value * offset_value) AS sum_offset_squared,
    SUM(weight_s * ABS(offset_value)) AS sum_offset_absolute,
    SUM(weight_s * since_start_s) AS sum_time,
    SUM(weight_s * since_start_s * since_start_s) AS sum_time_squared,
    SUM(weight_s * since_start_s * offset_value) AS sum_time_offset
FROM binned
GROUP BY maneuver_id, channel, bin_width, bin_no;
