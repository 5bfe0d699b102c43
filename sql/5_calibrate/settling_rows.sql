-- One row is a sample of a level-off or power change, as settling looks at it. A TABLE, in order of maneuver and time, so that neighbours are read in stored order.
-- Inputs: retrim_events, maneuver_numbers, placed_samples, patchy_observations, limits
-- Grain: maneuver_no, t_ms
-- Units: t_ms in milliseconds from the session's start; altitude_error_ft in feet; vertical_speed_fpm in ft/min; displacement and the controls in fractions of
-- travel (a logged force counts in parts of settle_force_n)
-- Source: the recorder; a vertical speed that was not logged is the derived one
CREATE OR REPLACE TABLE settling_rows AS
SELECT
    p.maneuver_no,
    p.t_ms,
    p.altitude_error_ft IS NOT NULL AS has_altitude,
    CASE WHEN e.target_altitude_ft IS NOT NULL THEN p.altitude_error_ft END AS altitude_error_ft,
    COALESCE(CAST(p.vertical_speed_fpm AS DOUBLE), v.value) AS vertical_speed_fpm,
    CASE
        WHEN e.control = 'centring' THEN p.pitch_control - e.pitch_neutral
        ELSE p.pitch_force * l.settle_control / l.settle_force_n
    END AS displacement,
    CAST(p.pitch_control AS DOUBLE) AS pitch_control,
    CAST(p.pitch_trim AS DOUBLE) AS pitch_trim,
    e.gap_limit_ms,
    e.speed_gap_ms,
    e.control_gap_ms,
    e.displacement_gap_ms,
    e.mean_ms
FROM placed_samples AS p
CROSS JOIN limits AS l
INNER JOIN maneuver_numbers AS n ON p.maneuver_no = n.maneuver_no
INNER JOIN retrim_events AS e ON n.maneuver_id = e.maneuver_id
LEFT JOIN patchy_observations AS v ON p.maneuver_no = v.maneuver_no AND p.t_ms = v.t_ms AND v.channel = 'vertical_speed'
ORDER BY p.maneuver_no, p.t_ms;
