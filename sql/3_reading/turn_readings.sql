-- One row is a turn and how it was flown: which way round, how it was rolled out, what altitude did. A TABLE: read once and kept.
-- Inputs: maneuver_windows, event_seconds, limits
-- Grain: maneuver_id
-- Units: _deg in degrees, positive to the right; peak_rate_deg_per_s in degrees per second; altitude_kept_ft in feet
-- Kept: one file beside each samples file
-- Source: ours, on the means of each second. asked_deg is the short way from the first heading to the target, in (-180, 180]. roll_out_error_deg is the mean
-- error over the last roll_out_mean_s of the time until roll_out_s after the turn; overshoot_deg is how far beyond the target the heading
-- went in the direction of the turn. altitude_kept_ft is the largest distance from the altitude at the start.
CREATE OR REPLACE TABLE turn_readings AS
WITH edges AS (
    SELECT
        w.maneuver_id,
        w.target_heading_deg,
        ARG_MIN(e.heading_deg, e.second_no) AS first_deg,
        ARG_MAX(e.heading_deg, e.second_no) AS last_deg,
        ARG_MIN(e.altitude_ft, e.second_no) AS first_ft,
        MAX(e.second_no) FILTER (WHERE e.heading_deg IS NOT NULL) AS last_no
    FROM maneuver_windows AS w
    INNER JOIN event_seconds AS e ON w.maneuver_id = e.maneuver_id
    WHERE w.kind = 'turn'
    GROUP BY w.maneuver_id, w.target_heading_deg
),

asked AS (
    SELECT
        maneuver_id,
        first_deg,
        first_ft,
        last_no,
        SIGN(last_deg - first_deg) AS direction,
        last_deg - first_deg AS turned_deg,
        (target_heading_deg - first_deg) - 360 * CEIL((target_heading_deg - first_deg - 180) / 360) AS asked_deg,
        last_deg - target_heading_deg - 360 * CEIL((last_deg - target_heading_deg - 180) / 360) AS last_error_deg,
        last_deg
    FROM edges
),

rates AS (
    SELECT
        now.maneuver_id,
        MAX(ABS(now.heading_deg - before.heading_deg) / 3) AS peak_rate_deg_per_s
    FROM event_seconds AS now
    INNER JOIN event_seconds AS before ON now.maneuver_id = before.maneuver_id AND before.second_no = now.second_no - 3
    GROUP BY now.maneuver_id
)

SELECT
    a.maneuver_id,
    ANY_VALUE(a.turned_deg) AS turned_deg,
    ANY_VALUE(a.asked_deg) AS asked_deg,
    AVG(a.last_error_deg + e.heading_deg - a.last_deg) FILTER (WHERE e.second_no > a.last_no - l.roll_out_mean_s) AS roll_out_error_deg,
    CASE
        WHEN ANY_VALUE(a.last_error_deg) IS NOT NULL
            THEN GREATEST(MAX(a.direction * (a.last_error_deg + e.heading_deg - a.last_deg)), 0)
    END AS overshoot_deg,
    ANY_VALUE(r.peak_rate_deg_per_s) AS peak_rate_deg_per_s,
    MAX(ABS(e.bank_deg)) AS peak_bank_deg,
    MAX(ABS(e.altitude_ft - a.first_ft)) AS altitude_kept_ft
FROM asked AS a
CROSS JOIN limits AS l
INNER JOIN event_seconds AS e ON a.maneuver_id = e.maneuver_id
LEFT JOIN rates AS r ON a.maneuver_id = r.maneuver_id
GROUP BY a.maneuver_id
ORDER BY a.maneuver_id;
