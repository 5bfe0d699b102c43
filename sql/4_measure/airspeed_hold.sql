-- One row is how a maneuver's airspeed was held: its difference from the maneuver's own median.
-- Inputs: maneuvers, channel_sums, session_gates, limits
-- Grain: maneuver_id
-- Units: kt; drift in kt per minute
-- Source: constant error, variable error, root mean square and mean absolute error as in the motor-learning literature; the band held for 95 %
-- of the time is the form in which flight technical error is stated. A figure is null where airspeed_hold_reason says why; where the reason
-- speaks of observed share or a data check the figures are shown but not scored.
CREATE OR REPLACE VIEW airspeed_hold AS
WITH held_back AS (
    SELECT
        session_id,
        MIN(gate) AS gate
    FROM session_gates
    WHERE severity = 'not_scored' AND channel = 'airspeed_kt'
    GROUP BY session_id
)

SELECT
    m.maneuver_id,
    ROUND(c.mean, 9) AS airspeed_bias_kt,
    ROUND(c.spread, 9) AS airspeed_sd_kt,
    ROUND(c.rms, 9) AS airspeed_rmse_kt,
    ROUND(c.mean_absolute, 9) AS airspeed_mae_kt,
    ROUND(c.largest, 9) AS airspeed_max_kt,
    ROUND(c.hold95, 9) AS airspeed_hold95_kt,
    ROUND(c.drift_per_min, 9) AS airspeed_drift_kt_per_min,
    ROUND(c.median, 9) AS airspeed_median_kt,
    c.observed_s AS airspeed_observed_s,
    CASE
        WHEN c.maneuver_id IS NULL THEN 'no airspeed recorded'
        WHEN c.observed_s IS NULL THEN 'fewer than two neighbouring samples'
        WHEN c.observed_s < ROUND(l.scored_observed_share * (m.end_s - m.start_s), 6) THEN 'airspeed observed for less than the scored share'
        WHEN g.gate IS NOT NULL THEN 'data check: ' || g.gate
    END AS airspeed_hold_reason
FROM maneuvers AS m
CROSS JOIN limits AS l
LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'airspeed'
LEFT JOIN held_back AS g ON m.session_id = g.session_id;
