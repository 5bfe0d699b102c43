-- One row is one second of a maneuver: the means of the channels' samples in it. A TABLE: several figures are read from it, so that they do not depend on the recorder's rate.
-- Inputs: placed_samples, patchy_observations, maneuver_numbers
-- Grain: maneuver_id, second_no
-- Units: second_no in whole seconds from the session's start; each mean in the unit of its name; altitude and heading as errors where there is a target
-- Source: the recorder; null where a channel has no sample in that second, and no row where no channel has one. Headings that pass half a turn from
-- the target, and vertical speeds that were derived, are taken from patchy_observations.
CREATE OR REPLACE TABLE second_means AS
WITH recorded AS (
    SELECT
        maneuver_no,
        CAST(FLOOR(t_ms / 1000) AS INTEGER) AS second_no,
        AVG(altitude_error_ft) AS altitude_error_ft,
        AVG(heading_error_deg) AS heading_error_deg,
        AVG(vertical_speed_fpm) AS vertical_speed_fpm,
        AVG(airspeed_kt) AS airspeed_kt,
        AVG(pitch_control) AS pitch_control,
        AVG(roll_control) AS roll_control,
        AVG(pitch_force) AS pitch_force,
        AVG(pitch_trim) AS pitch_trim,
        AVG(bank_deg) AS bank_deg,
        AVG(pitch_deg) AS pitch_deg,
        AVG(power) AS power,
        BOOL_OR(autopilot) AS is_autopilot_on,
        BOOL_OR(on_ground) AS is_on_ground
    FROM placed_samples
    GROUP BY maneuver_no, second_no
),

patchy AS (
    SELECT
        maneuver_no,
        CAST(FLOOR(t_ms / 1000) AS INTEGER) AS second_no,
        AVG(value) FILTER (WHERE channel = 'heading') AS heading_error_deg,
        AVG(value) FILTER (WHERE channel = 'vertical_speed') AS vertical_speed_fpm
    FROM patchy_observations
    WHERE channel IN ('heading', 'vertical_speed')
    GROUP BY maneuver_no, second_no
)

SELECT
    n.maneuver_id,
    r.maneuver_no,
    CAST(r.second_no AS INTEGER) AS second_no,
    r.altitude_error_ft,
    COALESCE(p.heading_error_deg, r.heading_error_deg) AS heading_error_deg,
    COALESCE(p.vertical_speed_fpm, r.vertical_speed_fpm) AS vertical_speed_fpm,
    r.airspeed_kt,
    r.pitch_control,
    r.roll_control,
    r.pitch_force,
    r.pitch_trim,
    r.bank_deg,
    r.pitch_deg,
    r.power,
    r.is_autopilot_on,
    r.is_on_ground
FROM recorded AS r
INNER JOIN maneuver_numbers AS n ON r.maneuver_no = n.maneuver_no
LEFT JOIN patchy AS p ON r.maneuver_no = p.maneuver_no AND r.second_no = p.second_no
ORDER BY r.maneuver_no, r.second_no;
