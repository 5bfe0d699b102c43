-- One row is a level-off or power change of a session that counts and how soon it was trimmed and left alone.
-- Inputs: maneuvers, settling_readings
-- Grain: maneuver_id
-- Units: all _s in seconds from the event's start
-- Source: settling_readings; not reached before the event's end is censored (is_settled false, trim_settle_s null) at followed_s, never dropped.
-- is_upper_bound: a gap before it may hide an earlier settling.
CREATE OR REPLACE VIEW trim_settling AS
SELECT
    m.maneuver_id,
    r.trim_settle_s,
    r.is_settled,
    r.trim_set_s,
    r.is_set,
    r.followed_s,
    r.set_followed_s,
    r.is_upper_bound,
    r.is_set_upper_bound,
    r.settling_reason
FROM settling_readings AS r
INNER JOIN maneuvers AS m ON r.maneuver_id = m.maneuver_id;
