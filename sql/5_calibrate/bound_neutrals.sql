-- One row is the neutral that a session's settling and hands-off readings are made with.
-- Inputs: device_neutrals
-- Grain: device_id, session_date
-- Units: pitch_neutral in fractions of travel
-- Source: device_neutrals; measuring binds it to the rows of the sessions it measures, and records them with what it wrote
CREATE OR REPLACE VIEW bound_neutrals AS
SELECT
    device_id,
    session_date,
    pitch_neutral
FROM device_neutrals;
