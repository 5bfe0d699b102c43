-- One row is a device in one aspect as the latest session of its class tells it: how much wider the same students' figures are on it.
-- Inputs: device_effects, device_notes
-- Grain: aspect, device_class, device_id
-- Units: effect_percent in per cent; counts in sessions and students
-- Source: device_effects; is_named where device_notes names the device to operations. NULL, with effect_reason, where none of its students flew
-- another device of the class, so that students and device cannot be told apart
CREATE OR REPLACE VIEW page_device_effects AS
WITH latest AS (
    SELECT *
    FROM device_effects
    QUALIFY session_date = MAX(session_date) OVER (PARTITION BY aspect, device_class)
)

SELECT
    e.aspect,
    e.device_class,
    e.device_id,
    e.session_date AS as_told_on,
    CASE WHEN e.linking_students > 0 THEN ROUND(100 * (EXP(e.effect_ln) - 1), 1) END AS effect_percent,
    CASE WHEN e.linking_students = 0 THEN 'nobody flew another device of its class' END AS effect_reason,
    e.session_count,
    e.student_count,
    e.linking_students,
    n.note IS NOT NULL AS is_named,
    n.note
FROM latest AS e
LEFT JOIN device_notes AS n ON e.aspect = n.aspect AND e.device_class = n.device_class AND e.device_id = n.device_id
ORDER BY e.aspect, e.device_class, e.device_id;
