-- One row is how a maneuver's altitude was held: its error from the target over all observed seconds.
-- Inputs: maneuvers, channel_sums, session_gates, limits
-- Grain: maneuver_id
-- Units: ft; drift in ft per minute
-- Source: constant error, variable error, root mean square and mean absolute error as in the motor-learning literature; the band held for 95 %
-- of the time is the form in which flight technical error is stated. A figure is null where altitude_hold_reason says why; where the reason
-- speaks of observed share or a data check the figures are shown but not scored.
CREATE OR REPLACE VIEW altitude_hold AS
WITH held_back AS (
    SELECT
        session_id,
        MIN(gate) AS gate
    FROM session_gates
    WHERE severity = 'not_scored' AND channel = 'altitude_ft'
    GROUP BY session_id
)

SELECT
    m.maneuver_id,
    CASE WHEN m.target_altitude_ft IS NOT NULL THEN ROUND(c.mean, 9) END AS altitude_bias_ft,
    ROUND(c.spread, 9) AS altitude_sd_ft,
    CASE WHEN m.target_altitude_ft IS NOT NULL THEN ROUND(c.rms, 9) END AS altitude_rmse_ft,
    CASE WHEN m.target_altitude_ft IS NOT NULL THEN ROUND(c.mean_absolute, 9) END AS altitude_mae_ft,
    CASE WHEN m.target_altitude_ft IS NOT NULL THEN ROUND(c.largest, 9) END AS altitude_max_ft,
    CASE WHEN m.target_altitude_ft IS NOT NULL THEN ROUND(c.hold95, 9) END AS altitude_hold95_ft,
    ROUND(c.drift_per_min, 9) AS altitude_drift_ft_per_min,
    c.observed_s AS altitude_observed_s,
    CASE
        WHEN c.maneuver_id IS NULL THEN 'no altitude recorded'
        WHEN c.observed_s IS NULL THEN 'fewer than two neighbouring samples'
        WHEN m.target_altitude_ft IS NULL THEN 'no target altitude'
        WHEN c.observed_s < ROUND(l.scored_observed_share * (m.end_s - m.start_s), 6) THEN 'altitude observed for less than the scored share'
        WHEN g.gate IS NOT NULL THEN 'data check: ' || g.gate
    END AS altitude_hold_reason
FROM maneuvers AS m
CROSS JOIN limits AS l
LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'altitude'
LEFT JOIN held_back AS g ON m.session_id = g.session_id;
