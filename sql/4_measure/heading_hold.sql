-- One row is how a maneuver's heading was held: its error from the target, wrapped at the start and unwrapped along time.
-- Inputs: maneuvers, channel_sums, session_gates, limits
-- Grain: maneuver_id
-- Units: deg; drift in deg per minute
-- Source: constant error, variable error, root mean square and mean absolute error as in the motor-learning literature; the band held for 95 %
-- of the time is the form in which flight technical error is stated. A figure is null where heading_hold_reason says why; where the reason
-- speaks of observed share or a data check the figures are shown but not scored.
CREATE OR REPLACE VIEW heading_hold AS
WITH held_back AS (
    SELECT
        session_id,
        MIN(gate) AS gate
    FROM session_gates
    WHERE severity = 'not_scored' AND channel = 'heading_deg'
    GROUP BY session_id
)

SELECT
    m.maneuver_id,
    CASE WHEN m.target_heading_deg IS NOT NULL THEN ROUND(c.mean, 9) END AS heading_bias_deg,
    ROUND(c.spread, 9) AS heading_sd_deg,
    CASE WHEN m.target_heading_deg IS NOT NULL THEN ROUND(c.rms, 9) END AS heading_rmse_deg,
    CASE WHEN m.target_heading_deg IS NOT NULL THEN ROUND(c.mean_absolute, 9) END AS heading_mae_deg,
    CASE WHEN m.target_heading_deg IS NOT NULL THEN ROUND(c.largest, 9) END AS heading_max_deg,
    CASE WHEN m.target_heading_deg IS NOT NULL THEN ROUND(c.hold95, 9) END AS heading_hold95_deg,
    ROUND(c.drift_per_min, 9) AS heading_drift_deg_per_min,
    c.observed_s AS heading_observed_s,
    CASE
        WHEN c.maneuver_id IS NULL THEN 'no heading recorded'
        WHEN c.observed_s IS NULL THEN 'fewer than two neighbouring samples'
        WHEN m.target_heading_deg IS NULL THEN 'no target heading'
        WHEN c.observed_s < ROUND(l.scored_observed_share * (m.end_s - m.start_s), 6) THEN 'heading observed for less than the scored share'
        WHEN g.gate IS NOT NULL THEN 'data check: ' || g.gate
    END AS heading_hold_reason
FROM maneuvers AS m
CROSS JOIN limits AS l
LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'heading'
LEFT JOIN held_back AS g ON m.session_id = g.session_id;
