-- One row is a maneuver and the number that stands for its code while samples are read. A TABLE: every reading joins it.
-- Inputs: maneuver_windows
-- Grain: maneuver_no
-- Units: _ms in milliseconds from the session's start
-- Source: numbers compare faster than codes; they mean nothing beyond one go of measuring
CREATE OR REPLACE TABLE maneuver_numbers AS
SELECT
    CAST(ROW_NUMBER() OVER (ORDER BY maneuver_id) AS INTEGER) AS maneuver_no,
    maneuver_id,
    session_id,
    revision,
    start_ms,
    end_ms,
    gap_limit_ms,
    target_altitude_ft,
    target_heading_deg
FROM maneuver_windows;
