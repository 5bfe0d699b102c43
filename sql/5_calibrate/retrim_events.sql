-- One row is a level-off or power change whose settling is read, with the neutral and the kind of control it was flown with. A TABLE: asked several times.
-- Inputs: maneuver_windows, session_controls, bound_neutrals, slow_channels, limits
-- Grain: maneuver_id
-- Units: _ms in milliseconds; target_altitude_ft in feet; pitch_neutral in fractions of travel; median_step_s in seconds
-- Source: tasks or inference; mean_ms, settle_hold_ms and set_hold_ms are settle_mean_s (less a millisecond, so that a mean ends before the
-- sample that lies exactly that long ago), settle_hold_s and set_hold_s. gap_limit_ms and median_step_s are the altitude's;
-- speed_, control_ and force_gap_ms those of the other channels, each as slow as it came.
CREATE OR REPLACE TABLE retrim_events AS
WITH limits_by_channel AS (
    SELECT
        session_id,
        revision,
        MAX(median_step_s) FILTER (WHERE channel = 'altitude') AS altitude_step_s,
        MAX(gap_limit_ms) FILTER (WHERE channel = 'altitude') AS altitude_ms,
        MAX(gap_limit_ms) FILTER (WHERE channel = 'vertical_speed') AS speed_ms,
        MAX(gap_limit_ms) FILTER (WHERE channel = 'pitch_control') AS control_ms,
        MAX(gap_limit_ms) FILTER (WHERE channel = 'pitch_force') AS force_ms
    FROM slow_channels
    GROUP BY session_id, revision
)

SELECT
    w.maneuver_id,
    w.session_id,
    w.revision,
    w.start_ms,
    w.end_ms,
    COALESCE(c.altitude_ms, w.gap_limit_ms) AS gap_limit_ms,
    COALESCE(c.speed_ms, w.gap_limit_ms) AS speed_gap_ms,
    COALESCE(c.control_ms, w.gap_limit_ms) AS control_gap_ms,
    COALESCE(CASE WHEN k.control = 'centring' THEN c.control_ms ELSE c.force_ms END, w.gap_limit_ms) AS displacement_gap_ms,
    GREATEST(w.median_step_s, c.altitude_step_s) AS median_step_s,
    w.target_altitude_ft,
    k.control,
    n.pitch_neutral,
    CAST(l.settle_mean_s * 1000 - 1 AS INTEGER) AS mean_ms,
    CAST(l.settle_hold_s * 1000 AS INTEGER) AS settle_hold_ms,
    CAST(l.set_hold_s * 1000 AS INTEGER) AS set_hold_ms
FROM maneuver_windows AS w
CROSS JOIN limits AS l
INNER JOIN session_controls AS k ON w.session_id = k.session_id AND w.revision = k.revision
LEFT JOIN limits_by_channel AS c ON w.session_id = c.session_id AND w.revision = c.revision
LEFT JOIN bound_neutrals AS n ON w.device_id = n.device_id AND w.session_date = n.session_date
WHERE w.kind IN ('level_off', 'power_change');
