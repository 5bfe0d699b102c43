-- One row is a moment that a drawn trace marks: when a level-off or power change was trimmed.
-- Inputs: page_trace_maneuvers
-- Grain: maneuver_id, moment
-- Units: t_s in seconds from the maneuver's start
-- Source: trim_settling; no row where the moment was not reached
CREATE OR REPLACE VIEW page_trace_moments AS
SELECT
    student_id,
    maneuver_id,
    'trimmed and left alone' AS moment,
    set_s AS t_s
FROM page_trace_maneuvers
WHERE set_s IS NOT NULL
UNION ALL
SELECT
    student_id,
    maneuver_id,
    'settled' AS moment,
    settle_s AS t_s
FROM page_trace_maneuvers
WHERE settle_s IS NOT NULL AND settle_s IS DISTINCT FROM set_s
ORDER BY ALL;
