-- One row is a maneuver, and channel by channel the sums over its samples. A TABLE: the samples' moments are added up once here.
-- Inputs: placed_samples, maneuver_centres
-- Grain: maneuver_no
-- Units: weight_ms in milliseconds, twice the time that a sample stands for (half of the known steps on both sides); seconds from the maneuver's middle
-- Source: trapezoid rule. Each channel is a structure: its centre and its lowest and highest value; the sums of weight_ms times the distance from the
-- centre, that squared, that times the seconds, and times the absolute value. They hold for channels that are not patchy.
CREATE OR REPLACE TABLE whole_sums AS
WITH distances AS (
    SELECT
        p.maneuver_no,
        COALESCE(p.step_ms, 0) + COALESCE(p.next_step_ms, 0) AS weight_ms,
        (p.t_ms - c.middle_ms) / 1000 AS seconds,
        CAST(p.altitude_error_ft AS DOUBLE) AS altitude,
        p.altitude_error_ft - c.altitude_error_ft AS altitude_off,
        c.altitude_error_ft AS altitude_centre,
        CAST(p.heading_error_deg AS DOUBLE) AS heading,
        p.heading_error_deg - c.heading_error_deg AS heading_off,
        c.heading_error_deg AS heading_centre,
        CAST(p.vertical_speed_fpm AS DOUBLE) AS vertical_speed,
        p.vertical_speed_fpm - c.vertical_speed_fpm AS vertical_speed_off,
        c.vertical_speed_fpm AS vertical_speed_centre,
        CAST(p.airspeed_kt AS DOUBLE) AS airspeed,
        p.airspeed_kt - c.airspeed_kt AS airspeed_off,
        c.airspeed_kt AS airspeed_centre,
        CAST(p.bank_deg AS DOUBLE) AS bank,
        p.bank_deg - c.bank_deg AS bank_off,
        c.bank_deg AS bank_centre,
        CAST(p.pitch_control AS DOUBLE) AS pitch_control,
        p.pitch_control - c.pitch_control AS pitch_control_off,
        c.pitch_control AS pitch_control_centre,
        CAST(p.roll_control AS DOUBLE) AS roll_control,
        p.roll_control - c.roll_control AS roll_control_off,
        c.roll_control AS roll_control_centre,
        CAST(p.pitch_force AS DOUBLE) AS pitch_force,
        p.pitch_force - c.pitch_force AS pitch_force_off,
        c.pitch_force AS pitch_force_centre
    FROM placed_samples AS p
    INNER JOIN maneuver_centres AS c ON p.maneuver_no = c.maneuver_no
)

SELECT
    maneuver_no,
    COUNT(*) AS sample_count,
    SUM(weight_ms) AS weight_ms,
    SUM(weight_ms * seconds) AS timed,
    SUM(weight_ms * seconds * seconds) AS timed_squared,
    {
        'centre': ANY_VALUE(altitude_centre),
        'low': MIN(altitude),
        'high': MAX(altitude),
        'off': SUM(weight_ms * altitude_off),
        'off_squared': SUM(weight_ms * altitude_off * altitude_off),
        'off_timed': SUM(weight_ms * altitude_off * seconds),
        'absolute': SUM(weight_ms * ABS(altitude))
    } AS altitude,
    {
        'centre': ANY_VALUE(heading_centre),
        'low': MIN(heading),
        'high': MAX(heading),
        'off': SUM(weight_ms * heading_off),
        'off_squared': SUM(weight_ms * heading_off * heading_off),
        'off_timed': SUM(weight_ms * heading_off * seconds),
        'absolute': SUM(weight_ms * ABS(heading))
    } AS heading,
    {
        'centre': ANY_VALUE(vertical_speed_centre),
        'low': MIN(vertical_speed),
        'high': MAX(vertical_speed),
        'off': SUM(weight_ms * vertical_speed_off),
        'off_squared': SUM(weight_ms * vertical_speed_off * vertical_speed_off),
        'off_timed': SUM(weight_ms * vertical_speed_off * seconds),
        'absolute': SUM(weight_ms * ABS(vertical_speed))
    } AS vertical_speed,
    {
        'centre': ANY_VALUE(airspeed_centre),
        'low': MIN(airspeed),
        'high': MAX(airspeed),
        'off': SUM(weight_ms * airspeed_off),
        'off_squared': SUM(weight_ms * airspeed_off * airspeed_off),
        'off_timed': SUM(weight_ms * airspeed_off * seconds),
        'absolute': SUM(weight_ms * ABS(airspeed))
    } AS airspeed,
    {
        'centre': ANY_VALUE(bank_centre),
        'low': MIN(bank),
        'high': MAX(bank),
        'off': SUM(weight_ms * bank_off),
        'off_squared': SUM(weight_ms * bank_off * bank_off),
        'off_timed': SUM(weight_ms * bank_off * seconds),
        'absolute': SUM(weight_ms * ABS(bank))
    } AS bank,
    {
        'centre': ANY_VALUE(pitch_control_centre),
        'low': MIN(pitch_control),
        'high': MAX(pitch_control),
        'off': SUM(weight_ms * pitch_control_off),
        'off_squared': SUM(weight_ms * pitch_control_off * pitch_control_off),
        'off_timed': SUM(weight_ms * pitch_control_off * seconds),
        'absolute': SUM(weight_ms * ABS(pitch_control))
    } AS pitch_control,
    {
        'centre': ANY_VALUE(roll_control_centre),
        'low': MIN(roll_control),
        'high': MAX(roll_control),
        'off': SUM(weight_ms * roll_control_off),
        'off_squared': SUM(weight_ms * roll_control_off * roll_control_off),
        'off_timed': SUM(weight_ms * roll_control_off * seconds),
        'absolute': SUM(weight_ms * ABS(roll_control))
    } AS roll_control,
    {
        'centre': ANY_VALUE(pitch_force_centre),
        'low': MIN(pitch_force),
        'high': MAX(pitch_force),
        'off': SUM(weight_ms * pitch_force_off),
        'off_squared': SUM(weight_ms * pitch_force_off * pitch_force_off),
        'off_timed': SUM(weight_ms * pitch_force_off * seconds),
        'absolute': SUM(weight_ms * ABS(pitch_force))
    } AS pitch_force
FROM distances
GROUP BY maneuver_no;
