-- One row is a sample of a landed session, every revision, as it was stored.
-- Inputs: none (files under samples/)
-- Grain: session_id, revision, t_ms
-- Units: t_ms in milliseconds from the session's start; each channel's unit is in its name; controls, trims and power as fractions of travel
-- Source: the recorder; null where a channel has no value at that time
CREATE OR REPLACE VIEW stored_samples AS
SELECT
    session_id,
    revision,
    t_ms,
    altitude_ft,
    heading_deg,
    vertical_speed_fpm,
    airspeed_kt,
    pitch_deg,
    bank_deg,
    pitch_control,
    roll_control,
    pitch_force,
    pitch_trim,
    roll_trim,
    power,
    on_ground,
    autopilot
FROM READ_PARQUET('samples/*/*.parquet');
