-- One row is a value of one channel within a maneuver: how far it is from the target, and how much time it stands for.
-- Inputs: channel_points, slow_channels, maneuver_windows, heading_starts
-- Grain: maneuver_id, channel, t_s
-- Units: t_s in seconds from the session's start; value and previous_value in the channel's unit; step_s and weight_s in seconds
-- Source: altitude and heading are errors (actual - target, positive when high or right of heading), or the value itself where there is
-- no target; other channels are the value itself. step_s is the time since the previous value: null for the first value of the
-- maneuver and across a step longer than the session's gap limit (a slower channel has its own), where nothing is known. weight_s is half of the known steps
-- on both sides (trapezoid rule).
CREATE OR REPLACE VIEW observations AS
WITH placed AS (
    SELECT
        w.maneuver_id,
        p.channel,
        p.t_ms,
        w.start_ms,
        p.value,
        p.previous_value,
        CASE
            WHEN p.channel = 'altitude' THEN COALESCE(w.target_altitude_ft, 0)
            WHEN p.channel = 'heading' THEN COALESCE(h.reference_deg, 0)
            ELSE 0
        END AS target,
        CASE
            WHEN p.previous_ms >= w.start_ms AND p.t_ms - p.previous_ms <= COALESCE(c.gap_limit_ms, w.gap_limit_ms)
                THEN (p.t_ms - p.previous_ms) / 1000.0::DOUBLE
        END AS step_s,
        CASE
            WHEN p.next_ms <= w.end_ms AND p.next_ms - p.t_ms <= COALESCE(c.gap_limit_ms, w.gap_limit_ms)
                THEN (p.next_ms - p.t_ms) / 1000.0::DOUBLE
        END AS next_step_s
    FROM channel_points AS p
    INNER JOIN maneuver_windows AS w
        ON
            p.session_id = w.session_id AND p.revision = w.revision
            AND p.t_ms >= w.start_ms AND p.t_ms <= w.end_ms
    LEFT JOIN heading_starts AS h ON w.maneuver_id = h.maneuver_id
    LEFT JOIN slow_channels AS c ON p.session_id = c.session_id AND p.revision = c.revision AND p.channel = c.channel
)

SELECT
    maneuver_id,
    channel,
    t_ms / 1000.0::DOUBLE AS t_s,
    (t_ms - start_ms) / 1000.0::DOUBLE AS since_start_s,
    value - target AS value,
    CASE WHEN step_s IS NOT NULL THEN previous_value - target END AS previous_value,
    step_s,
    next_step_s IS NOT NULL AS has_next,
    (COALESCE(step_s, 0) + COALESCE(next_step_s, 0)) / 2 AS weight_s
FROM placed;
