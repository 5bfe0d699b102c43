-- One row is a sample of a session that counts.
-- Inputs: stored_samples, sessions
-- Grain: session_id, t_s
-- Units: t_s in seconds from the session's start; each channel's unit is in its name; controls, trims and power as fractions of travel
-- Source: the recorder; null where a channel has no value at that time
CREATE OR REPLACE VIEW samples AS
SELECT
    p.session_id,
    p.t_ms / 1000.0::DOUBLE AS t_s,
    p.altitude_ft,
    p.heading_deg,
    p.vertical_speed_fpm,
    p.airspeed_kt,
    p.pitch_deg,
    p.bank_deg,
    p.pitch_control,
    p.roll_control,
    p.pitch_force,
    p.pitch_trim,
    p.roll_trim,
    p.power,
    p.on_ground,
    p.autopilot
FROM stored_samples AS p
INNER JOIN sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision;
