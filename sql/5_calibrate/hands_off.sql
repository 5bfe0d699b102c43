-- One row is a hands-off stretch of a session that counts: how far the aeroplane wandered by itself, and how slowly it breathed.
-- Inputs: maneuvers, hands_off_readings
-- Grain: maneuver_id, stretch_no
-- Units: start_s and end_s in seconds from the session's start; wander_ft in feet; periods in seconds
-- Source: hands_off_readings; period_s is null where fewer than three passages were seen, lanchester_period_s where no airspeed was logged
CREATE OR REPLACE VIEW hands_off AS
SELECT
    r.maneuver_id,
    r.stretch_no,
    r.start_s,
    r.end_s,
    r.wander_ft,
    r.period_s,
    r.lanchester_period_s
FROM hands_off_readings AS r
INNER JOIN maneuvers AS m ON r.maneuver_id = m.maneuver_id;
