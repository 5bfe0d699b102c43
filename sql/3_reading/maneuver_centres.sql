-- One row is a maneuver and a value near the middle of each channel, from which sums lose no digits. A TABLE: it is joined to every sample.
-- Inputs: second_means, maneuver_numbers
-- Grain: maneuver_no
-- Units: middle_ms in milliseconds from the session's start; each channel's unit is in its name; altitude and heading as errors
-- Source: ours; means of the seconds' means, as good as any other near value
CREATE OR REPLACE TABLE maneuver_centres AS
SELECT
    n.maneuver_no,
    (ANY_VALUE(n.start_ms) + ANY_VALUE(n.end_ms)) / 2 AS middle_ms,
    AVG(m.altitude_error_ft) AS altitude_error_ft,
    AVG(m.heading_error_deg) AS heading_error_deg,
    AVG(m.vertical_speed_fpm) AS vertical_speed_fpm,
    AVG(m.airspeed_kt) AS airspeed_kt,
    AVG(m.bank_deg) AS bank_deg,
    AVG(m.pitch_control) AS pitch_control,
    AVG(m.roll_control) AS roll_control,
    AVG(m.pitch_force) AS pitch_force
FROM second_means AS m
INNER JOIN maneuver_numbers AS n ON m.maneuver_no = n.maneuver_no
GROUP BY n.maneuver_no;
