-- One row is a hands-off stretch of a session that counts: how far the aeroplane wandered by itself, and how slowly it breathed.
-- Inputs: maneuvers, session_air, hands_off_readings, breathing_readings
-- Grain: maneuver_id, stretch_no
-- Units: start_s and end_s in seconds from the session's start; wander_ft in feet; periods in seconds; damping_ratio and damping_se fractions of critical damping
-- Source: hands_off_readings; period_s is null where fewer than three passages were seen, lanchester_period_s where no airspeed was logged,
-- damping_ratio where too little breathing was seen, or in rougher air, whose gusts keep it going (damping_reason). is_left_alone is false where the
-- control was taken back needlessly.
CREATE OR REPLACE VIEW hands_off AS
SELECT
    r.maneuver_id,
    r.stretch_no,
    r.start_s,
    r.end_s,
    r.wander_ft,
    r.period_s,
    r.lanchester_period_s,
    CASE WHEN a.is_rougher THEN NULL ELSE b.damping_ratio END AS damping_ratio,
    CASE WHEN a.is_rougher THEN NULL ELSE b.damping_se END AS damping_se,
    CASE WHEN a.is_rougher THEN 'rougher air' ELSE COALESCE(b.damping_reason, CASE WHEN b.damping_ratio IS NULL THEN 'not measured' END) END AS damping_reason,
    b.end_cause,
    b.end_cause <> 'needless' AS is_left_alone
FROM hands_off_readings AS r
INNER JOIN maneuvers AS m ON r.maneuver_id = m.maneuver_id
LEFT JOIN session_air AS a ON m.session_id = a.session_id
LEFT JOIN breathing_readings AS b ON r.maneuver_id = b.maneuver_id AND r.stretch_no = b.stretch_no;
