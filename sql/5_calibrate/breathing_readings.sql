-- One row is a hands-off stretch and how the aeroplane's breathing died out, and why the stretch ended. A TABLE: read once and kept.
-- Inputs: hands_off_readings, maneuver_windows, second_means, limits
-- Grain: maneuver_id, stretch_no
-- Units: damping_ratio and damping_se are fractions of critical damping; half_cycles a count
-- Kept: one file beside each samples file
-- Source: the logarithmic decrement of the altitude's swings. The means of each second are taken about the stretch's own least-squares line. A half cycle
-- lasts until the altitude is breathing_swing_ft beyond the line on the other side, so that noise makes none; the first and the last, which the
-- stretch cuts, are left out. A swing is the height from one half cycle's extreme to the next: what is left of the line's error falls out of it.
-- delta is twice the least-squares fall of the swings' logarithm from one to the next; damping_ratio is delta / sqrt(4 pi^2 + delta^2),
-- damping_se its standard error. Told from breathing_swings swings on, where damping_se is at most damping_se_maximum and no time from extreme to
-- extreme is more than breathing_evenness times another; otherwise null with damping_reason. end_cause: the maneuver ended, a gap came, the
-- control was moved with altitude beyond settle_altitude_ft (called for), or inside it (needless: the aeroplane would have come back by itself).
CREATE OR REPLACE TABLE breathing_readings AS
WITH stretch_seconds AS (
    SELECT
        h.maneuver_id,
        h.stretch_no,
        m.second_no,
        m.altitude_error_ft
    FROM hands_off_readings AS h
    INNER JOIN second_means AS m
        ON h.maneuver_id = m.maneuver_id AND m.second_no >= FLOOR(h.start_s) AND m.second_no < h.end_s
),

lines AS (
    SELECT
        maneuver_id,
        stretch_no,
        REGR_SLOPE(altitude_error_ft, second_no) AS slope_ft_per_s,
        REGR_INTERCEPT(altitude_error_ft, second_no) AS intercept_ft
    FROM stretch_seconds
    GROUP BY maneuver_id, stretch_no
),

sides AS (
    SELECT
        s.maneuver_id,
        s.stretch_no,
        s.second_no,
        s.altitude_error_ft - n.intercept_ft - n.slope_ft_per_s * s.second_no AS off_line_ft,
        CASE WHEN ABS(off_line_ft) >= l.breathing_swing_ft THEN SIGN(off_line_ft) END AS side
    FROM stretch_seconds AS s
    CROSS JOIN limits AS l
    INNER JOIN lines AS n ON s.maneuver_id = n.maneuver_id AND s.stretch_no = n.stretch_no
),

held_sides AS (
    SELECT
        maneuver_id,
        stretch_no,
        second_no,
        off_line_ft,
        LAST_VALUE(side IGNORE NULLS) OVER (PARTITION BY maneuver_id, stretch_no ORDER BY second_no) AS side
    FROM sides
),

turned_sides AS (
    SELECT
        *,
        side <> LAG(side) OVER (PARTITION BY maneuver_id, stretch_no ORDER BY second_no) AS is_turned
    FROM held_sides
    WHERE side IS NOT NULL
),

halves AS (
    SELECT
        maneuver_id,
        stretch_no,
        second_no,
        off_line_ft,
        side,
        SUM(CASE WHEN is_turned THEN 1 ELSE 0 END) OVER (PARTITION BY maneuver_id, stretch_no ORDER BY second_no) AS half_no
    FROM turned_sides
),

extremes AS (
    SELECT
        maneuver_id,
        stretch_no,
        half_no,
        ARG_MAX(off_line_ft, side * off_line_ft) AS extreme_ft,
        ARG_MAX(second_no, side * off_line_ft) AS extreme_no,
        MAX(half_no) OVER (PARTITION BY maneuver_id, stretch_no) AS last_half
    FROM halves
    GROUP BY maneuver_id, stretch_no, half_no
),

swings AS (
    SELECT
        maneuver_id,
        stretch_no,
        half_no,
        ABS(extreme_ft - LAG(extreme_ft) OVER in_time) AS swing_ft,
        extreme_no - LAG(extreme_no) OVER in_time AS swing_s
    FROM extremes
    WHERE half_no > 0 AND half_no < last_half
    WINDOW in_time AS (PARTITION BY maneuver_id, stretch_no ORDER BY half_no)
),

fits AS (
    SELECT
        maneuver_id,
        stretch_no,
        COUNT(*) AS half_cycles,
        COUNT(swing_ft) AS swings,
        MAX(swing_s) / MIN(swing_s) AS unevenness,
        -2 * REGR_SLOPE(LN(swing_ft), half_no) AS delta,
        SQRT(
            GREATEST(
                REGR_SYY(LN(swing_ft), half_no) - REGR_SXY(LN(swing_ft), half_no) * REGR_SLOPE(LN(swing_ft), half_no),
                0
            ) / NULLIF(COUNT(swing_ft) - 2, 0) / NULLIF(REGR_SXX(LN(swing_ft), half_no), 0)
        ) / PI() AS damping_se
    FROM swings
    GROUP BY maneuver_id, stretch_no
),

dampings AS (
    SELECT
        f.maneuver_id,
        f.stretch_no,
        f.half_cycles,
        f.delta,
        f.damping_se,
        CASE
            WHEN f.swings < l.breathing_swings THEN 'too few swings above the noise'
            WHEN f.unevenness > l.breathing_evenness OR f.damping_se > l.damping_se_maximum THEN 'swings too uneven to tell a damping'
        END AS damping_reason
    FROM fits AS f
    CROSS JOIN limits AS l
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
            FROM stretch_seconds AS n
            WHERE n.maneuver_id = h.maneuver_id AND n.stretch_no = h.stretch_no
        ) AS last_off_ft
    FROM hands_off_readings AS h
    INNER JOIN maneuver_windows AS w ON h.maneuver_id = w.maneuver_id
)

SELECT
    e.maneuver_id,
    e.stretch_no,
    COALESCE(d.half_cycles, 0) AS half_cycles,
    CASE WHEN d.damping_reason IS NULL THEN ROUND(d.delta / SQRT(4 * PI() * PI() + d.delta * d.delta), 6) END AS damping_ratio,
    CASE WHEN d.damping_reason IS NULL THEN ROUND(d.damping_se, 6) END AS damping_se,
    CASE WHEN d.maneuver_id IS NULL THEN 'too few swings above the noise' ELSE d.damping_reason END AS damping_reason,
    CASE
        WHEN e.is_maneuver_end THEN 'end of the maneuver'
        WHEN e.next_seconds = 0 THEN 'gap'
        WHEN e.last_off_ft > l.settle_altitude_ft THEN 'called for'
        WHEN e.last_off_ft <= l.settle_altitude_ft THEN 'needless'
    END AS end_cause
FROM ends AS e
CROSS JOIN limits AS l
LEFT JOIN dampings AS d ON e.maneuver_id = d.maneuver_id AND e.stretch_no = d.stretch_no
ORDER BY e.maneuver_id, e.stretch_no;
