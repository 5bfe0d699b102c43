-- One row is a maneuver in level flight and how its corrections were made: in step with the needle, how large, how banked. A TABLE: read once and kept.
-- Inputs: maneuver_windows, second_means, limits
-- Grain: maneuver_id
-- Units: needle_r a correlation; growth a ratio; correction_gain_per_min in ft/min per foot; the shares are fractions of seconds
-- Kept: one file beside each samples file
-- Source: on the means of each second. needle_r: between the pitch control and the vertical speed needle_lag_s before it (-1: pushed as the needle rises).
-- growth: rms vertical speed of the later half over that of the earlier. correction_gain_per_min: least-squares slope of vertical speed on the
-- altitude error, turned round; the handbook's rule is 2. over_rate_share: vertical speed toward the target, or away, more than
-- correction_excess_fpm beyond twice the error, at most correction_cap_fpm (FAA Instrument Flying Handbook, attitude flying).
-- over_bank_share: bank toward the heading beyond the degrees of error, or beyond what standard rate takes at the airspeed
-- (the same handbook), by more than correction_bank_slack_deg.
CREATE OR REPLACE TABLE correction_sums AS
WITH seconds AS (
    SELECT
        m.maneuver_id,
        m.second_no,
        m.second_no >= (w.start_s + w.end_s) / 2 AS is_late,
        m.pitch_control,
        m.vertical_speed_fpm,
        before.vertical_speed_fpm AS needle_fpm,
        m.altitude_error_ft,
        ABS(m.vertical_speed_fpm) AS rate_fpm,
        CASE
            WHEN w.target_altitude_ft IS NOT NULL AND m.altitude_error_ft IS NOT NULL
                THEN LEAST(l.correction_gain_per_min * ABS(m.altitude_error_ft), l.correction_cap_fpm)
        END AS called_fpm,
        ABS(m.bank_deg) AS bank_deg,
        CASE
            WHEN w.target_heading_deg IS NOT NULL AND m.heading_error_deg IS NOT NULL
                THEN LEAST(
                    ABS(m.heading_error_deg),
                    COALESCE(
                        DEGREES(ATAN(m.airspeed_kt * 1.687810 * RADIANS(l.standard_rate_deg_per_s) / 32.174)),
                        ABS(m.heading_error_deg)
                    )
                )
        END AS called_deg
    FROM second_means AS m
    CROSS JOIN limits AS l
    INNER JOIN maneuver_windows AS w ON m.maneuver_id = w.maneuver_id
    LEFT JOIN second_means AS before
        ON m.maneuver_id = before.maneuver_id AND before.second_no = m.second_no - CAST(l.needle_lag_s AS INTEGER)
    WHERE w.kind IN ('level', 'level_off', 'power_change')
)

SELECT
    s.maneuver_id,
    CASE
        WHEN
            STDDEV_POP(s.pitch_control) FILTER (WHERE s.needle_fpm IS NOT NULL) > 0
            AND STDDEV_POP(s.needle_fpm) FILTER (WHERE s.pitch_control IS NOT NULL) > 0
            THEN CORR(s.pitch_control, s.needle_fpm)
    END AS needle_r,
    SQRT(AVG(s.vertical_speed_fpm * s.vertical_speed_fpm) FILTER (WHERE s.is_late))
    / NULLIF(SQRT(AVG(s.vertical_speed_fpm * s.vertical_speed_fpm) FILTER (WHERE NOT s.is_late)), 0) AS growth,
    CASE
        WHEN COUNT(s.called_fpm) > 1 AND STDDEV_POP(s.altitude_error_ft) FILTER (WHERE s.vertical_speed_fpm IS NOT NULL) > 0
            THEN -REGR_SLOPE(s.vertical_speed_fpm, s.altitude_error_ft)
    END AS correction_gain_per_min,
    AVG(CASE WHEN s.rate_fpm > s.called_fpm + l.correction_excess_fpm THEN 1.0 WHEN s.rate_fpm + s.called_fpm IS NOT NULL THEN 0.0 END) AS over_rate_share,
    AVG(CASE WHEN s.bank_deg > s.called_deg + l.correction_bank_slack_deg THEN 1.0 WHEN s.bank_deg + s.called_deg IS NOT NULL THEN 0.0 END) AS over_bank_share
FROM seconds AS s
CROSS JOIN limits AS l
GROUP BY s.maneuver_id
ORDER BY s.maneuver_id;
