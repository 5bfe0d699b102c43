-- One row is a maneuver and the seconds of the session it lies in, every revision. A TABLE: every reading joins it.
-- Inputs: assigned_parts, inferred_maneuvers, stored_sessions
-- Grain: maneuver_id
-- Units: _s in seconds and _ms in milliseconds from the session's start; altitude in feet; heading in degrees magnetic
-- Kept: one file beside each samples file
-- Source: tasks of the inbox, and what was found in the log where no task was (basis says which; assigned wins where both cover a second);
-- gap_limit_ms is the longest step between samples across which a channel counts as known
CREATE OR REPLACE TABLE maneuver_windows AS
WITH all_maneuvers AS (
    SELECT
        maneuver_id,
        session_id,
        revision,
        kind,
        basis,
        start_s,
        end_s,
        target_altitude_ft,
        target_heading_deg,
        flown_by
    FROM assigned_parts
    UNION ALL
    SELECT
        maneuver_id,
        session_id,
        revision,
        kind,
        basis,
        start_s,
        end_s,
        target_altitude_ft,
        target_heading_deg,
        flown_by
    FROM inferred_maneuvers
)

SELECT
    m.maneuver_id,
    m.session_id,
    m.revision,
    m.kind,
    m.basis,
    m.start_s,
    m.end_s,
    CAST(ROUND(m.start_s * 1000) AS INTEGER) AS start_ms,
    CAST(ROUND(m.end_s * 1000) AS INTEGER) AS end_ms,
    m.target_altitude_ft,
    m.target_heading_deg,
    m.flown_by,
    s.device_id,
    s.session_date,
    s.median_step_s,
    CAST(FLOOR(ROUND(s.gap_limit_s * 1000, 3)) AS INTEGER) AS gap_limit_ms
FROM all_maneuvers AS m
INNER JOIN stored_sessions AS s ON m.session_id = s.session_id AND m.revision = s.revision
ORDER BY m.maneuver_id;
