-- One row is a maneuver whose figures may be released, and the code that stands for it. A TABLE: read several times.
-- Inputs: maneuvers, shared_rows
-- Grain: maneuver_id
-- Units: start_s and end_s in seconds from the session's start
-- Source: ours; maneuvers are numbered within their session in the order flown
CREATE OR REPLACE TABLE coded_maneuvers AS
SELECT
    m.maneuver_id,
    FORMAT(
        '{}-m{:02d}',
        r.session_code,
        ROW_NUMBER() OVER (PARTITION BY m.session_id ORDER BY m.start_s, m.end_s, m.maneuver_id)
    ) AS maneuver_code,
    r.session_code,
    r.student_code,
    r.cohort,
    r.standard_id,
    r.is_standard_masked,
    r.held_standard_id,
    r.device_class,
    r.device_code,
    r.air,
    r.week_no,
    r.is_week_masked,
    m.kind,
    m.basis,
    m.start_s,
    m.end_s,
    m.flown_by,
    m.observed_s,
    m.is_scored,
    m.not_scored_reason
FROM maneuvers AS m
INNER JOIN shared_rows AS r ON m.session_id = r.session_id;
