-- One row is a channel over a whole maneuver: mean, spread, extremes, the band that holds most of the time, drift. A TABLE: read once and kept.
-- Inputs: channel_bins, limits
-- Grain: maneuver_id, channel
-- Units: observed_s in seconds; drift_per_min in the channel's unit per minute; all else in the channel's unit
-- Kept: one file beside each samples file
-- Source: time-weighted by the trapezoid rule; spread is about the mean, population form, so that rms squared is mean squared plus
-- spread squared. reference is 0 (altitude and heading are errors already), for airspeed the maneuver's median; mean, rms,
-- mean_absolute, largest and hold95 are about it. hold95 is the smallest band, in steps of the bin, that contains
-- hold_share of the observed time. All are null where fewer than two neighbouring samples were observed.
CREATE OR REPLACE TABLE channel_sums AS
WITH running AS (
    SELECT
        *,
        (bin_no - MIN(bin_no) OVER whole) * bin_width AS bin_place,
        MIN(bin_no) OVER whole * bin_width AS first_place,
        SUM(weight_s) OVER whole AS observed_s,
        SUM(weight_s) OVER (PARTITION BY maneuver_id, channel ORDER BY bin_no) AS weight_up_to_s
    FROM channel_bins
    WINDOW whole AS (PARTITION BY maneuver_id, channel)
),

references_found AS (
    SELECT
        maneuver_id,
        channel,
        MIN(bin_no) FILTER (WHERE weight_up_to_s >= observed_s / 2 * (1 - 1e-12)) AS median_bin,
        MIN(bin_no) FILTER (WHERE weight_up_to_s >= observed_s / 2 * (1 - 1e-12)) * ANY_VALUE(bin_width) AS median_value,
        ANY_VALUE(first_place) + SUM(weight_s * bin_place + sum_offset) / NULLIF(ANY_VALUE(observed_s), 0) AS mean_value,
        SUM(sum_time) / NULLIF(ANY_VALUE(observed_s), 0) AS mean_time_s
    FROM running
    GROUP BY maneuver_id, channel
),

centred AS (
    SELECT
        r.*,
        CASE WHEN r.channel = 'airspeed' THEN f.median_value ELSE 0 END AS reference_value,
        CASE WHEN r.channel = 'airspeed' THEN f.median_bin ELSE 0 END AS reference_bin,
        f.median_value,
        f.mean_value,
        f.mean_time_s,
        r.bin_no * r.bin_width - f.mean_value AS from_mean,
        r.bin_no * r.bin_width - CASE WHEN r.channel = 'airspeed' THEN f.median_value ELSE 0 END AS from_reference
    FROM running AS r
    INNER JOIN references_found AS f ON r.maneuver_id = f.maneuver_id AND r.channel = f.channel
),

distances AS (
    SELECT
        *,
        SUM(weight_s) OVER (
            PARTITION BY maneuver_id, channel
            ORDER BY ABS(bin_no - reference_bin)
        ) AS weight_within_s
    FROM centred
),

moments AS (
    SELECT
        d.maneuver_id,
        d.channel,
        CAST(SUM(d.sample_count) AS BIGINT) AS sample_count,
        NULLIF(ANY_VALUE(d.observed_s), 0) AS observed_s,
        ANY_VALUE(d.reference_value) AS reference_value,
        ANY_VALUE(d.median_value) AS median_value,
        ANY_VALUE(d.mean_value) - ANY_VALUE(d.reference_value) AS mean_error,
        SUM(d.sum_offset_squared + 2 * d.from_mean * d.sum_offset + d.from_mean * d.from_mean * d.weight_s)
        / NULLIF(ANY_VALUE(d.observed_s), 0) AS variance,
        SUM(
            CASE
                WHEN d.bin_no = d.reference_bin THEN d.sum_offset_absolute
                ELSE ABS(d.sum_offset + d.from_reference * d.weight_s)
            END
        )
        / NULLIF(ANY_VALUE(d.observed_s), 0) AS mean_absolute,
        MAX(GREATEST(ABS(d.low - d.reference_value), ABS(d.high - d.reference_value))) AS largest,
        MIN(ABS(d.bin_no - d.reference_bin) * d.bin_width) FILTER (
            WHERE d.weight_within_s >= l.hold_share * d.observed_s * (1 - 1e-12)
        ) AS hold95,
        SUM(
            d.sum_time_offset + d.from_mean * d.sum_time
            - d.mean_time_s * (d.sum_offset + d.from_mean * d.weight_s)
        ) AS time_covariance,
        SUM(
            d.sum_time_squared - 2 * d.mean_time_s * d.sum_time + d.mean_time_s * d.mean_time_s * d.weight_s
        ) AS time_variance
    FROM distances AS d
    CROSS JOIN limits AS l
    GROUP BY d.maneuver_id, d.channel
)

SELECT
    maneuver_id,
    channel,
    sample_count,
    ROUND(observed_s, 6) AS observed_s,
    CASE WHEN observed_s IS NOT NULL THEN reference_value END AS reference,
    CASE WHEN observed_s IS NOT NULL THEN median_value END AS median,
    mean_error AS mean,
    CASE WHEN observed_s IS NOT NULL THEN SQRT(GREATEST(variance, 0)) END AS spread,
    SQRT(mean_error * mean_error + GREATEST(variance, 0)) AS rms,
    mean_absolute,
    CASE WHEN observed_s IS NOT NULL THEN largest END AS largest,
    CASE WHEN observed_s IS NOT NULL THEN hold95 END AS hold95,
    60 * time_covariance / NULLIF(time_variance, 0) AS drift_per_min
FROM moments
ORDER BY maneuver_id, channel;
