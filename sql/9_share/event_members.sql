-- One row is an event that counts as part of one cell: of its class of device and basis, and of the cohort in it.
-- Inputs: followed_events, maneuvers, shareable_students, export_choice
-- Grain: cell_id, contribution_id
-- Units: time_s in seconds from the event's start
-- Source: followed_events, on which the school's own curves rest; cells nest, as in week_members; contribution_id is two digests, as in shared_weeks
CREATE OR REPLACE VIEW event_members AS
SELECT
    CONCAT_WS('/', e.figure, e.device_class, m.basis, CASE WHEN v.depth > 1 THEN REPLACE(REPLACE(p.cohort, '%', '%25'), '/', '%2F') END) AS cell_id,
    CASE WHEN v.depth > 1 THEN CONCAT_WS('/', e.figure, e.device_class, m.basis) END AS parent_cell_id,
    v.cell_level,
    e.figure,
    e.device_class,
    m.basis,
    CASE WHEN v.depth > 1 THEN p.cohort END AS cohort,
    e.student_id,
    LEFT(SHA256(CONCAT_WS('|', e.maneuver_id, e.figure)), 16)
    || LEFT(SHA256(CONCAT_WS('|', e.maneuver_id, e.figure, p.cohort, ROUND(e.time_s, 6), e.is_settled)), 16) AS contribution_id,
    e.time_s,
    e.is_settled AS is_event
FROM followed_events AS e
INNER JOIN maneuvers AS m ON e.maneuver_id = m.maneuver_id
INNER JOIN shareable_students AS p ON e.student_id = p.student_id AND p.left_out_reason IS NULL
CROSS JOIN export_choice AS c
CROSS JOIN (VALUES (1, 'stratum'), (2, 'cohort')) AS v (depth, cell_level)
WHERE
    e.figure IN ('settled', 'set')
    AND e.session_date >= COALESCE(c.first_date, e.session_date)
    AND e.session_date <= COALESCE(c.last_date, e.session_date);
