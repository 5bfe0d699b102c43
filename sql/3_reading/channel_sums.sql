-- One row is a channel over a whole maneuver: mean, spread, extremes, the band that holds most of the time, drift. A TABLE: read once and kept.
-- Inputs: whole_sums, patchy_channels, patchy_observations, maneuver_centres, maneuver_numbers, hold_bands, airspeed_bands
-- Grain: maneuver_id, channel
-- Units: observed_s in seconds; drift_per_min in the channel's unit per minute; all else in the channel's unit
-- Kept: one file beside each samples file
-- Source: time-weighted by the trapezoid rule; spread is about the mean, population form, so that rms squared is mean squared plus
-- spread squared. reference is 0 (altitude and heading are errors already), for airspeed the maneuver's median; mean, rms,
-- mean_absolute, largest and hold95 are about it. median is read of airspeed alone, hold95 of altitude, heading and airspeed.
-- All are null where fewer than two neighbouring samples were observed.
CREATE OR REPLACE TABLE channel_sums AS
WITH whole_channels AS (
    SELECT *
    FROM whole_sums
    UNPIVOT (
        sums FOR channel IN (altitude, heading, vertical_speed, airspeed, bank, pitch_control, roll_control, pitch_force)
    )
),

patchy_weights AS (
    SELECT
        o.maneuver_no,
        o.channel,
        o.value,
        COALESCE(o.step_ms, 0) + COALESCE(o.next_step_ms, 0) AS weight_ms,
        FIRST_VALUE(o.value) OVER (PARTITION BY o.maneuver_no, o.channel ORDER BY o.t_ms) AS centre,
        (o.t_ms - c.middle_ms) / 1000 AS seconds
    FROM patchy_observations AS o
    INNER JOIN maneuver_centres AS c ON o.maneuver_no = c.maneuver_no
),

sums AS (
    SELECT
        w.maneuver_no,
        w.channel,
        w.sample_count,
        NULLIF(w.weight_ms, 0) AS weight_ms,
        w.timed,
        w.timed_squared,
        w.sums.centre AS centre,
        w.sums.low AS low,
        w.sums.high AS high,
        w.sums.off AS off,
        w.sums.off_squared AS off_squared,
        w.sums.off_timed AS off_timed,
        w.sums.absolute AS absolute
    FROM whole_channels AS w
    ANTI JOIN patchy_channels AS c ON w.maneuver_no = c.maneuver_no AND w.channel = c.channel
    WHERE w.sums.low IS NOT NULL
    UNION ALL
    SELECT
        maneuver_no,
        channel,
        COUNT(*) AS sample_count,
        NULLIF(SUM(weight_ms), 0) AS weight_ms,
        SUM(weight_ms * seconds) AS timed,
        SUM(weight_ms * seconds * seconds) AS timed_squared,
        ANY_VALUE(centre) AS centre,
        MIN(value) AS low,
        MAX(value) AS high,
        SUM(weight_ms * (value - centre)) AS off,
        SUM(weight_ms * (value - centre) * (value - centre)) AS off_squared,
        SUM(weight_ms * (value - centre) * seconds) AS off_timed,
        SUM(weight_ms * ABS(value)) AS absolute
    FROM patchy_weights
    GROUP BY maneuver_no, channel
),

moments AS (
    SELECT
        *,
        centre + off / weight_ms AS mean_value,
        off_squared / weight_ms - (off / weight_ms) * (off / weight_ms) AS variance,
        off_timed - timed * off / weight_ms AS time_covariance,
        timed_squared - timed * timed / weight_ms AS time_variance
    FROM sums
),

referred AS (
    SELECT
        m.*,
        a.median_kt,
        a.mean_absolute_kt,
        COALESCE(h.hold95, a.hold95_kt) AS hold95,
        COALESCE(a.median_kt, 0) AS reference
    FROM moments AS m
    LEFT JOIN airspeed_bands AS a ON m.maneuver_no = a.maneuver_no AND m.channel = 'airspeed'
    LEFT JOIN hold_bands AS h ON m.maneuver_no = h.maneuver_no AND m.channel = h.channel
)

SELECT
    n.maneuver_id,
    r.channel,
    r.sample_count,
    ROUND(r.weight_ms / 2000, 6) AS observed_s,
    CASE WHEN r.weight_ms IS NOT NULL THEN r.reference END AS reference,
    r.median_kt AS median,
    r.mean_value - r.reference AS mean,
    CASE WHEN r.weight_ms IS NOT NULL THEN SQRT(GREATEST(r.variance, 0)) END AS spread,
    SQRT((r.mean_value - r.reference) * (r.mean_value - r.reference) + GREATEST(r.variance, 0)) AS rms,
    COALESCE(r.mean_absolute_kt, r.absolute / r.weight_ms) AS mean_absolute,
    CASE WHEN r.weight_ms IS NOT NULL THEN GREATEST(ABS(r.low - r.reference), ABS(r.high - r.reference)) END AS largest,
    r.hold95,
    60 * r.time_covariance / NULLIF(r.time_variance, 0) AS drift_per_min
FROM referred AS r
INNER JOIN maneuver_numbers AS n ON r.maneuver_no = n.maneuver_no
ORDER BY n.maneuver_id, r.channel;
