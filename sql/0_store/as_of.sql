-- One row is the date that lists and flags are told for: the date asked for, or else that of the latest session.
-- Inputs: stored_sessions
-- Grain: as_of_date
-- Units: a date
-- Source: the school's sessions
CREATE OR REPLACE VIEW as_of AS
SELECT MAX(session_date) AS as_of_date
FROM stored_sessions;
