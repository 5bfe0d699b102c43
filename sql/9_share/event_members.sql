-- One row is an event with a known time as part of one cell: of its class of device, and of the cohort in it.
-- Inputs: shared_events
-- Grain: cell_id, contribution_id
-- Units: time_s in seconds from the event's start
-- Source: ours; cells nest, as in week_members
CREATE OR REPLACE VIEW event_members AS
SELECT
    CONCAT_WS('/', e.figure, e.device_class, CASE WHEN v.depth > 1 THEN REPLACE(REPLACE(e.cohort, '%', '%25'), '/', '%2F') END) AS cell_id,
    CASE WHEN v.depth > 1 THEN CONCAT_WS('/', e.figure, e.device_class) END AS parent_cell_id,
    v.cell_level,
    e.figure,
    e.device_class,
    CASE WHEN v.depth > 1 THEN e.cohort END AS cohort,
    e.student_id,
    LEFT(SHA256(CONCAT_WS('|', e.maneuver_id, e.figure, e.cohort, ROUND(e.time_s, 6), e.is_event)), 16) AS contribution_id,
    e.time_s,
    e.is_event
FROM shared_events AS e
CROSS JOIN (VALUES (1, 'stratum'), (2, 'cohort')) AS v (depth, cell_level)
WHERE e.time_s IS NOT NULL;
