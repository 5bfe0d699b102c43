-- One row is a level maneuver on which a standing flag rests, with its seconds, so that the flag can be followed to the flight.
-- Inputs: flags, evidence_maneuvers, maneuvers, sessions
-- Grain: student_id, aspect, maneuver_id
-- Units: start_s, end_s in seconds from the session's start; held in ft (altitude), deg (heading) or fraction of travel (trim)
-- Source: evidence_maneuvers, unchanged; held is tolerance_ratio times the flag's tolerance
CREATE OR REPLACE VIEW page_evidence AS
SELECT
    e.student_id,
    e.aspect,
    e.maneuver_id,
    e.session_id,
    e.session_date,
    s.device_id,
    m.basis,
    m.start_s,
    m.end_s,
    m.target_altitude_ft,
    m.target_heading_deg,
    e.tolerance_ratio,
    e.tolerance_ratio * f.tolerance AS held
FROM flags AS f
INNER JOIN evidence_maneuvers AS e ON f.student_id = e.student_id AND f.aspect = e.aspect AND f.stratum = e.stratum
INNER JOIN maneuvers AS m ON e.maneuver_id = m.maneuver_id
INNER JOIN sessions AS s ON e.session_id = s.session_id
ORDER BY e.student_id, e.aspect, e.session_date, e.maneuver_id;
