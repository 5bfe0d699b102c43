-- One row is a level-off or power change whose settling is read, with the neutral and the kind of control it was flown with.
-- Inputs: maneuver_windows, stored_sessions, bound_neutrals, devices, limits
-- Grain: maneuver_id
-- Units: _ms in milliseconds; target_altitude_ft in feet; pitch_neutral in fractions of travel
-- Source: tasks or inference; mean_ms, settle_hold_ms and set_hold_ms are settle_mean_s (less a millisecond, so that a mean ends before the
-- sample that lies exactly that long ago), settle_hold_s and set_hold_s
CREATE OR REPLACE VIEW retrim_events AS
WITH control_kinds AS (
    SELECT
        s.session_id,
        s.revision,
        COALESCE(ARG_MAX(d.control, COALESCE(d.valid_from, DATE '1900-01-01')), 'centring') AS control
    FROM stored_sessions AS s
    LEFT JOIN devices AS d ON s.device_id = d.device_id AND s.session_date >= COALESCE(d.valid_from, DATE '1900-01-01')
    GROUP BY s.session_id, s.revision
)

SELECT
    w.maneuver_id,
    w.session_id,
    w.revision,
    w.start_ms,
    w.end_ms,
    w.gap_limit_ms,
    w.median_step_s,
    w.target_altitude_ft,
    k.control,
    n.pitch_neutral,
    CAST(l.settle_mean_s * 1000 - 1 AS INTEGER) AS mean_ms,
    CAST(l.settle_hold_s * 1000 AS INTEGER) AS settle_hold_ms,
    CAST(l.set_hold_s * 1000 AS INTEGER) AS set_hold_ms
FROM maneuver_windows AS w
CROSS JOIN limits AS l
INNER JOIN control_kinds AS k ON w.session_id = k.session_id AND w.revision = k.revision
LEFT JOIN bound_neutrals AS n ON w.device_id = n.device_id AND w.session_date = n.session_date
WHERE w.kind IN ('level_off', 'power_change');
