-- One row is a turn of a session that counts: the way round, the roll-out, what altitude did meanwhile.
-- Inputs: maneuvers, turn_readings, limits
-- Grain: maneuver_id
-- Units: _deg in degrees, positive to the right; peak_rate_deg_per_s in degrees per second; altitude_kept_ft in feet
-- Source: turn_readings. is_short_way is null where the target lay within ten degrees of straight behind: either way is right. overshoot_deg is how far
-- the heading went beyond the target before or after rolling out. altitude_hold tells the altitude against its target.
CREATE OR REPLACE VIEW turn_figures AS
SELECT
    m.maneuver_id,
    ROUND(r.asked_deg, 6) AS asked_deg,
    ROUND(r.turned_deg, 6) AS turned_deg,
    CASE WHEN ABS(r.asked_deg) <= 170 AND ABS(r.asked_deg) > 1 THEN SIGN(r.turned_deg) = SIGN(r.asked_deg) END AS is_short_way,
    ROUND(r.roll_out_error_deg, 6) AS roll_out_error_deg,
    ROUND(r.overshoot_deg, 6) AS overshoot_deg,
    ROUND(r.peak_rate_deg_per_s, 6) AS peak_rate_deg_per_s,
    ROUND(r.peak_bank_deg, 6) AS peak_bank_deg,
    ROUND(r.altitude_kept_ft, 6) AS altitude_kept_ft,
    CASE
        WHEN r.maneuver_id IS NULL THEN 'no heading observed'
        WHEN m.target_heading_deg IS NULL THEN 'no target heading'
        WHEN m.observed_s < l.scored_observed_share * (m.end_s - m.start_s)
            THEN FORMAT('observed for only {:.0f} of {:.0f} s', m.observed_s, m.end_s - m.start_s)
    END AS turn_reason
FROM maneuvers AS m
CROSS JOIN limits AS l
LEFT JOIN turn_readings AS r ON m.maneuver_id = r.maneuver_id
WHERE m.kind = 'turn';
