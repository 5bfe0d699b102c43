-- One row is a level-off or power change of a release in one figure of settling, as survival analysis takes it.
-- Inputs: shared_events, coded_maneuvers, coded_reasons
-- Grain: maneuver_code, figure
-- Units: time_s in seconds from the event's start; week_no in weeks from the student's start
-- Source: shared_events: is_event false is right-censored at time_s, never dropped; is_upper_bound: a gap before it may hide an earlier moment;
-- time_s null: not known, for the reason in missing_code. student_code is the cluster; device_class, air, basis and cohort are strata.
-- Rounded, so that digits are no fingerprint.
CREATE OR REPLACE VIEW released_events AS
SELECT
    m.maneuver_code,
    e.figure,
    m.student_code,
    m.session_code,
    m.cohort,
    m.device_class,
    m.device_code,
    m.air,
    m.week_no,
    m.is_week_masked,
    m.kind,
    m.basis,
    ROUND(e.time_s, 1) AS time_s,
    e.is_event,
    e.is_upper_bound,
    e.is_in_curves,
    CASE WHEN e.time_s IS NULL THEN r.missing_code END AS missing_code
FROM shared_events AS e
INNER JOIN coded_maneuvers AS m ON e.maneuver_id = m.maneuver_id
LEFT JOIN coded_reasons AS r ON e.settling_reason = r.reason;
