-- One row is a maneuver, the median of its airspeed, and the mean absolute distance and the band about it.
-- A TABLE: it is joined to samples.
-- Inputs: airspeed_bins, limits
-- Grain: maneuver_no
-- Units: knots
-- Source: median and band are resolved to airspeed_bin_kt; of a tie the lower is the median. The band is the smallest that contains hold_share of the
-- observed time. No row where no time was observed.
CREATE OR REPLACE TABLE airspeed_bands AS
WITH running AS (
    SELECT
        maneuver_no,
        bin_no,
        weight_ms,
        off,
        off_absolute,
        SUM(weight_ms) OVER (PARTITION BY maneuver_no ORDER BY bin_no) AS weight_up_to_ms,
        SUM(weight_ms) OVER (PARTITION BY maneuver_no) AS observed_ms
    FROM airspeed_bins
),

medians AS (
    SELECT
        maneuver_no,
        MIN(bin_no) AS median_bin
    FROM running
    WHERE weight_up_to_ms * 2 >= observed_ms AND observed_ms > 0
    GROUP BY maneuver_no
),

distances AS (
    SELECT
        r.maneuver_no,
        m.median_bin,
        ABS(r.bin_no - m.median_bin) AS distance,
        r.observed_ms,
        SUM(r.weight_ms) AS weight_ms,
        SUM(
            CASE
                WHEN r.bin_no = m.median_bin THEN r.off_absolute
                ELSE ABS(r.off + (r.bin_no - m.median_bin) * l.airspeed_bin_kt * r.weight_ms)
            END
        ) AS absolute
    FROM running AS r
    CROSS JOIN limits AS l
    INNER JOIN medians AS m ON r.maneuver_no = m.maneuver_no
    GROUP BY r.maneuver_no, m.median_bin, distance, r.observed_ms
),

within AS (
    SELECT
        *,
        SUM(weight_ms) OVER (PARTITION BY maneuver_no ORDER BY distance) AS weight_within_ms
    FROM distances
)

SELECT
    w.maneuver_no,
    w.median_bin * l.airspeed_bin_kt AS median_kt,
    SUM(w.absolute) / w.observed_ms AS mean_absolute_kt,
    MIN(w.distance) FILTER (WHERE w.weight_within_ms >= l.hold_share * w.observed_ms * (1 - 1e-12)) * l.airspeed_bin_kt AS hold95_kt
FROM within AS w
CROSS JOIN limits AS l
GROUP BY w.maneuver_no, w.median_bin, w.observed_ms, l.airspeed_bin_kt;
