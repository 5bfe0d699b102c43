-- One row is a sample of a level-off or power change and what settling asks of it: control off, on altitude, level.
-- Inputs: retrim_events, stored_samples, vertical_speed_points, limits
-- Grain: maneuver_id, t_ms
-- Units: t_ms in milliseconds from the session's start; altitude_error_ft in feet; vertical speeds in ft/min; displacement in fractions of travel
-- (a logged force counts in parts of settle_force_n); speed_ms in milliseconds: how long the step to mid_vertical_speed was
-- Source: ours. Vertical speed and displacement are judged by their time-means over the last settle_mean_s (steps that end there, or the plain mean
-- of lone values), which restart after a gap in the altitude (stretch_no counts on). Each channel is read at its own rate: a blank cell
-- is not judged, and is no gap. A free control without a force is off when it rests within hands_off_still of its own mean.
CREATE OR REPLACE VIEW settling_steps AS
WITH rows_in_order AS (
    SELECT
        e.maneuver_id,
        e.mean_ms,
        e.settle_hold_ms,
        e.set_hold_ms,
        e.gap_limit_ms,
        e.speed_gap_ms,
        e.control_gap_ms,
        e.displacement_gap_ms,
        e.control,
        p.t_ms,
        CASE WHEN p.altitude_ft IS NOT NULL THEN p.t_ms END AS altitude_at_ms,
        p.altitude_ft - e.target_altitude_ft AS altitude_error_ft,
        v.value AS vertical_speed_fpm,
        CASE
            WHEN e.control = 'centring' THEN p.pitch_control - e.pitch_neutral
            ELSE p.pitch_force * l.settle_control / l.settle_force_n
        END AS displacement,
        CAST(p.pitch_control AS DOUBLE) AS pitch_control,
        CAST(p.pitch_trim AS DOUBLE) AS pitch_trim
    FROM retrim_events AS e
    CROSS JOIN limits AS l
    INNER JOIN stored_samples AS p
        ON e.session_id = p.session_id AND e.revision = p.revision AND p.t_ms >= e.start_ms AND p.t_ms <= e.end_ms
    LEFT JOIN vertical_speed_points AS v
        ON p.session_id = v.session_id AND p.revision = v.revision AND p.t_ms = v.t_ms
),

gaps AS (
    SELECT
        *,
        COALESCE(
            altitude_at_ms
            - LAG(altitude_at_ms IGNORE NULLS) OVER (PARTITION BY maneuver_id ORDER BY t_ms) > gap_limit_ms,
            FALSE
        ) AS is_after_gap
    FROM rows_in_order
),

stretches AS (
    SELECT
        *,
        SUM(CASE WHEN is_after_gap THEN 1 ELSE 0 END) OVER (PARTITION BY maneuver_id ORDER BY t_ms) AS stretch_no
    FROM gaps
),

neighbours AS (
    SELECT
        *,
        MAX(altitude_at_ms) OVER (PARTITION BY maneuver_id, stretch_no) AS stretch_end_ms,
        t_ms - LAG(CASE WHEN vertical_speed_fpm IS NOT NULL THEN t_ms END IGNORE NULLS) OVER by_time AS speed_step_ms,
        t_ms - LAG(CASE WHEN displacement IS NOT NULL THEN t_ms END IGNORE NULLS) OVER by_time AS displacement_step_ms,
        t_ms - LAG(CASE WHEN pitch_control IS NOT NULL THEN t_ms END IGNORE NULLS) OVER by_time AS control_step_ms,
        (vertical_speed_fpm + LAG(vertical_speed_fpm IGNORE NULLS) OVER by_time) / 2 AS mid_vertical_speed,
        (displacement + LAG(displacement IGNORE NULLS) OVER by_time) / 2 AS mid_displacement,
        (pitch_control + LAG(pitch_control IGNORE NULLS) OVER by_time) / 2 AS mid_control
    FROM stretches
    WINDOW by_time AS (PARTITION BY maneuver_id, stretch_no ORDER BY t_ms)
),

pieces AS (
    SELECT
        *,
        CASE WHEN mid_vertical_speed IS NOT NULL AND speed_step_ms <= speed_gap_ms THEN speed_step_ms END AS speed_ms,
        CASE WHEN mid_displacement IS NOT NULL AND displacement_step_ms <= displacement_gap_ms THEN displacement_step_ms END AS displaced_ms,
        CASE WHEN mid_control IS NOT NULL AND control_step_ms <= control_gap_ms THEN control_step_ms END AS control_ms
    FROM neighbours
),

recent_means AS (
    SELECT
        p.*,
        COALESCE(
            SUM(p.mid_vertical_speed * p.speed_ms) OVER recent / NULLIF(SUM(p.speed_ms) OVER recent, 0),
            AVG(p.vertical_speed_fpm) OVER recent
        ) AS mean_vertical_speed,
        COALESCE(
            SUM(p.mid_displacement * p.displaced_ms) OVER recent / NULLIF(SUM(p.displaced_ms) OVER recent, 0),
            AVG(p.displacement) OVER recent
        ) AS mean_displacement,
        COALESCE(
            SUM(p.mid_control * p.control_ms) OVER recent / NULLIF(SUM(p.control_ms) OVER recent, 0),
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
    t.speed_ms,
    t.altitude_error_ft,
    t.vertical_speed_fpm,
    t.mid_vertical_speed,
    t.displacement,
    t.pitch_control,
    t.pitch_trim,
    t.mean_vertical_speed,
    t.mean_displacement,
    t.altitude_at_ms IS NOT NULL AS has_altitude,
    CASE
        WHEN t.control = 'centring' OR t.mean_displacement IS NOT NULL THEN ABS(t.mean_displacement) <= l.settle_control
        WHEN t.pitch_control IS NULL THEN t.mean_control IS NOT NULL
        ELSE ABS(t.pitch_control - t.mean_control) <= l.hands_off_still
    END AS is_control_off,
    CASE WHEN t.altitude_at_ms IS NULL THEN TRUE ELSE ABS(t.altitude_error_ft) <= l.settle_altitude_ft END AS is_on_altitude,
    ABS(t.mean_vertical_speed) <= l.settle_vertical_speed_fpm AS is_level
FROM recent_means AS t
CROSS JOIN limits AS l;
