-- One row is a hands-off stretch and how the aeroplane's breathing died out, and why the stretch ended. A TABLE: read once and kept.
-- Inputs: hands_off_readings, maneuver_windows, second_means, limits
-- Grain: maneuver_id, stretch_no
-- Units: damping_ratio is a fraction of critical damping; half_cycles a count
-- Kept: one file beside each samples file
-- Source: the logarithmic decrement of the vertical speed about the stretch's mean: delta is twice the least-squares fall of the logarithm of its peak from half
-- cycle to half cycle, damping_ratio delta / sqrt(4 pi^2 + delta^2); at least three whole half cycles that peak at breathing_minimum_fpm or more, the
-- cut first and last ones left out. end_cause: the maneuver ended, a gap came, the control was moved with altitude beyond
-- settle_altitude_ft (called for), or inside it (needless: the aeroplane would have come back by itself).
CREATE OR REPLACE TABLE breathing_readings AS
WITH deviations AS (
    SELECT
        h.maneuver_id,
        h.stretch_no,
        m.second_no,
        m.altitude_error_ft,
        m.vertical_speed_fpm - AVG(m.vertical_speed_fpm) OVER (PARTITION BY h.maneuver_id, h.stretch_no) AS deviation_fpm
    FROM hands_off_readings AS h
    INNER JOIN second_means AS m
        ON h.maneuver_id = m.maneuver_id AND m.second_no >= FLOOR(h.start_s) AND m.second_no < h.end_s
),

passed AS (
    SELECT
        *,
        SIGN(deviation_fpm) <> 0
        AND SIGN(deviation_fpm) <> LAG(NULLIF(SIGN(deviation_fpm), 0) IGNORE NULLS) OVER (
            PARTITION BY maneuver_id, stretch_no
            ORDER BY second_no
        ) AS is_passage
    FROM deviations
),

halves AS (
    SELECT
        maneuver_id,
        stretch_no,
        deviation_fpm,
        SUM(CASE WHEN is_passage THEN 1 ELSE 0 END) OVER (PARTITION BY maneuver_id, stretch_no ORDER BY second_no) AS half_no
    FROM passed
),

peaks AS (
    SELECT
        h.maneuver_id,
        h.stretch_no,
        h.half_no,
        MAX(ABS(h.deviation_fpm)) AS peak_fpm,
        MAX(h.half_no) OVER (PARTITION BY h.maneuver_id, h.stretch_no) AS last_half
    FROM halves AS h
    GROUP BY h.maneuver_id, h.stretch_no, h.half_no
),

decrements AS (
    SELECT
        p.maneuver_id,
        p.stretch_no,
        COUNT(*) AS half_cycles,
        CASE WHEN COUNT(*) >= 3 AND MIN(p.peak_fpm) >= ANY_VALUE(l.breathing_minimum_fpm) THEN -2 * REGR_SLOPE(LN(p.peak_fpm), p.half_no) END AS delta
    FROM peaks AS p
    CROSS JOIN limits AS l
    WHERE p.half_no > 0 AND p.half_no < p.last_half AND p.peak_fpm > 0
    GROUP BY p.maneuver_id, p.stretch_no
),

ends AS (
    SELECT
        h.maneuver_id,
        h.stretch_no,
        h.end_s >= w.end_s - 1 AS is_maneuver_end,
        (
            SELECT COUNT(*)
            FROM second_means AS n
            WHERE n.maneuver_id = h.maneuver_id AND n.second_no = CEIL(h.end_s)
        ) AS next_seconds,
        (
            SELECT ARG_MAX(ABS(n.altitude_error_ft), n.second_no)
            FROM deviations AS n
            WHERE n.maneuver_id = h.maneuver_id AND n.stretch_no = h.stretch_no
        ) AS last_off_ft
    FROM hands_off_readings AS h
    INNER JOIN maneuver_windows AS w ON h.maneuver_id = w.maneuver_id
)

SELECT
    e.maneuver_id,
    e.stretch_no,
    COALESCE(d.half_cycles, 0) AS half_cycles,
    ROUND(d.delta / SQRT(4 * PI() * PI() + d.delta * d.delta), 6) AS damping_ratio,
    CASE
        WHEN e.is_maneuver_end THEN 'end of the maneuver'
        WHEN e.next_seconds = 0 THEN 'gap'
        WHEN e.last_off_ft > l.settle_altitude_ft THEN 'called for'
        WHEN e.last_off_ft <= l.settle_altitude_ft THEN 'needless'
    END AS end_cause
FROM ends AS e
CROSS JOIN limits AS l
LEFT JOIN decrements AS d ON e.maneuver_id = d.maneuver_id AND e.stretch_no = d.stretch_no
ORDER BY e.maneuver_id, e.stretch_no;
