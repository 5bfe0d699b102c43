-- One row is a device that looks wrong to operations: figures flown on it are wider, or narrower, than the same students' figures elsewhere.
-- Inputs: device_effects, limits
-- Grain: aspect, device_class, device_id
-- Units: effect_ln in the natural logarithm of tolerance ratio; effect_percent in per cent; counts in sessions and students
-- Source: device_effects as of the latest session of its class up to the date asked for; named from flag_device_note_ln on, with more than
-- flag_device_students students who also flew another device. It is a reason to look at the device, no proof of a fault.
CREATE OR REPLACE VIEW device_notes AS
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
    e.effect_ln,
    100 * (EXP(e.effect_ln) - 1) AS effect_percent,
    e.session_count,
    e.student_count,
    e.linking_students,
    FORMAT(
        '{}: {} figures are {:.0f} % {} than the same students'' elsewhere ({:d} sessions, {:d} students who flew others too)',
        e.device_id,
        e.aspect,
        ABS(100 * (EXP(e.effect_ln) - 1)),
        CASE WHEN e.effect_ln > 0 THEN 'wider' ELSE 'narrower' END,
        e.session_count,
        e.linking_students
    ) AS note
FROM latest AS e
CROSS JOIN limits AS k
WHERE ABS(e.effect_ln) > k.flag_device_note_ln AND e.linking_students > k.flag_device_students
ORDER BY ABS(e.effect_ln) DESC, e.device_id, e.aspect;
