-- One row is a sample of a level-off or power change and what settling asks of it: control off, on altitude, level.
-- Inputs: retrim_events, stored_samples, vertical_speed_points, limits
-- Grain: maneuver_id, t_ms
-- Units: t_ms in milliseconds from the session's start; altitude_error_ft in feet; vertical speeds in ft/min; displacement in fractions of travel
-- (a logged force counts in parts of settle_force_n)
-- Source: ours. Vertical speed and displacement are judged by their time-means over the last settle_mean_s, which restart after a gap (stretch_no
-- counts on). A free control without a force is off when it rests within hands_off_still of its own mean.
CREATE OR REPLACE VIEW settling_steps AS
WITH rows_in_order AS (
    SELECT
        e.maneuver_id,
        e.mean_ms,
        e.settle_hold_ms,
        e.set_hold_ms,
        p.t_ms,
        p.altitude_ft - e.target_altitude_ft AS altitude_error_ft,
        v.value AS vertical_speed_fpm,
        CASE
            WHEN e.control = 'centring' THEN p.pitch_control - e.pitch_neutral
            WHEN p.pitch_force IS NOT NULL THEN p.pitch_force * l.settle_control / l.settle_force_n
        END AS displacement,
        p.pitch_control,
        p.pitch_trim,
        (p.t_ms - LAG(p.t_ms) OVER by_time) AS step_ms,
        COALESCE(p.t_ms - LAG(p.t_ms) OVER by_time > e.gap_limit_ms, FALSE) AS is_after_gap
    FROM retrim_events AS e
    CROSS JOIN limits AS l
    INNER JOIN stored_samples AS p
        ON e.session_id = p.session_id AND e.revision = p.revision AND p.t_ms >= e.start_ms AND p.t_ms <= e.end_ms
    LEFT JOIN vertical_speed_points AS v
        ON p.session_id = v.session_id AND p.revision = v.revision AND p.t_ms = v.t_ms
    WHERE p.altitude_ft IS NOT NULL
    WINDOW by_time AS (PARTITION BY e.maneuver_id ORDER BY p.t_ms)
),

stretches AS (
    SELECT
        *,
        SUM(CASE WHEN is_after_gap THEN 1 ELSE 0 END) OVER (PARTITION BY maneuver_id ORDER BY t_ms) AS stretch_no
    FROM rows_in_order
),

pieces AS (
    SELECT
        *,
        CASE WHEN LAG(t_ms) OVER by_time IS NOT NULL THEN step_ms END AS known_ms,
        (vertical_speed_fpm + LAG(vertical_speed_fpm) OVER by_time) / 2 AS mid_vertical_speed,
        (displacement + LAG(displacement) OVER by_time) / 2 AS mid_displacement,
        (pitch_control + LAG(pitch_control) OVER by_time) / 2 AS mid_control
    FROM stretches
    WINDOW by_time AS (PARTITION BY maneuver_id, stretch_no ORDER BY t_ms)
),

recent_means AS (
    SELECT
        p.*,
        MAX(p.t_ms) OVER (PARTITION BY p.maneuver_id, p.stretch_no) AS stretch_end_ms,
        COALESCE(
            SUM(p.mid_vertical_speed * p.known_ms) OVER recent
            / NULLIF(SUM(CASE WHEN p.mid_vertical_speed IS NOT NULL THEN p.known_ms END) OVER recent, 0),
            AVG(p.vertical_speed_fpm) OVER recent
        ) AS mean_vertical_speed,
        COALESCE(
            SUM(p.mid_displacement * p.known_ms) OVER recent
            / NULLIF(SUM(CASE WHEN p.mid_displacement IS NOT NULL THEN p.known_ms END) OVER recent, 0),
            AVG(p.displacement) OVER recent
        ) AS mean_displacement,
        COALESCE(
            SUM(p.mid_control * p.known_ms) OVER recent
            / NULLIF(SUM(CASE WHEN p.mid_control IS NOT NULL THEN p.known_ms END) OVER recent, 0),
            AVG(p.pitch_control) OVER recent
        ) AS mean_control
    FROM pieces AS p
    WINDOW recent AS (
        PARTITION BY p.maneuver_id, p.stretch_no
        ORDER BY p.t_ms
        RANGE BETWEEN p.mean_ms PRECEDING AND CURRENT ROW
    )
)

SELECT
    t.maneuver_id,
    t.t_ms,
    t.stretch_no,
    t.stretch_end_ms,
    t.settle_hold_ms,
    t.set_hold_ms,
    t.known_ms,
    t.altitude_error_ft,
    t.vertical_speed_fpm,
    t.mid_vertical_speed,
    t.displacement,
    t.pitch_control,
    t.pitch_trim,
    t.mean_vertical_speed,
    t.mean_displacement,
    CASE
        WHEN e.control = 'centring' OR t.mean_displacement IS NOT NULL THEN ABS(t.mean_displacement) <= l.settle_control
        ELSE ABS(t.pitch_control - t.mean_control) <= l.hands_off_still
    END AS is_control_off,
    ABS(t.altitude_error_ft) <= l.settle_altitude_ft AS is_on_altitude,
    ABS(t.mean_vertical_speed) <= l.settle_vertical_speed_fpm AS is_level
FROM recent_means AS t
INNER JOIN retrim_events AS e ON t.maneuver_id = e.maneuver_id
CROSS JOIN limits AS l;
