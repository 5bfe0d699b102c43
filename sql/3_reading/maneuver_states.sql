-- One row is a maneuver and what the log says of the seconds it lies in. A TABLE: read once and kept.
-- Inputs: maneuver_windows, second_means
-- Grain: maneuver_id
-- Units: seconds is a count of seconds with any sample
-- Kept: one file beside each samples file
-- Source: the recorder; null where the channel was not logged
CREATE OR REPLACE TABLE maneuver_states AS
SELECT
    w.maneuver_id,
    COUNT(m.second_no) AS seconds,
    BOOL_OR(m.is_autopilot_on) AS is_autopilot_on,
    BOOL_OR(m.is_on_ground) AS is_on_ground,
    AVG(m.airspeed_kt) AS airspeed_kt,
    AVG(m.power) AS power
FROM maneuver_windows AS w
LEFT JOIN second_means AS m ON w.maneuver_id = m.maneuver_id
GROUP BY w.maneuver_id
ORDER BY w.maneuver_id;
