-- One row is a level-off or power change of a student who may be in the export, in one figure of settling, as survival analysis takes it. A TABLE: read several times.
-- Inputs: trim_settling, maneuvers, sessions, shareable_students, export_choice, followed_events
-- Grain: maneuver_id, figure
-- Units: time_s in seconds from the event's start
-- Source: trim_settling; time_s is when it was settled (or set) where is_event, else how long it was followed without (right-censored). is_upper_bound: a
-- gap before it may hide an earlier moment. time_s is null where settling_reason says why it cannot be known. is_in_curves: it is one of
-- followed_events (smooth or light air, flown by the student, nothing against it), on which cells and the school's own curves rest.
CREATE OR REPLACE TABLE shared_events AS
SELECT
    m.maneuver_id,
    g.figure,
    s.student_id,
    p.cohort,
    s.device_class,
    CASE g.figure
        WHEN 'settled' THEN CASE WHEN t.is_settled THEN t.trim_settle_s ELSE t.followed_s END
        ELSE CASE WHEN t.is_set THEN t.trim_set_s ELSE t.set_followed_s END
    END AS time_s,
    CASE g.figure WHEN 'settled' THEN t.is_settled ELSE t.is_set END AS is_event,
    CASE g.figure WHEN 'settled' THEN t.is_upper_bound ELSE t.is_set_upper_bound END AS is_upper_bound,
    f.maneuver_id IS NOT NULL AS is_in_curves,
    t.settling_reason
FROM trim_settling AS t
INNER JOIN maneuvers AS m ON t.maneuver_id = m.maneuver_id
INNER JOIN sessions AS s ON m.session_id = s.session_id
INNER JOIN shareable_students AS p ON s.student_id = p.student_id AND p.left_out_reason IS NULL
CROSS JOIN export_choice AS c
CROSS JOIN (VALUES ('settled'), ('set')) AS g (figure)
LEFT JOIN followed_events AS f ON t.maneuver_id = f.maneuver_id AND g.figure = f.figure
WHERE
    s.session_date >= COALESCE(c.first_date, s.session_date)
    AND s.session_date <= COALESCE(c.last_date, s.session_date);
