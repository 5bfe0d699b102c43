-- One row is a sample of a level-off or power change, and the sums up to it of what settling takes means of. A TABLE, in order of maneuver and time, so that
-- neighbours are read in stored order.
-- Inputs: settling_rows
-- Grain: row_no
-- Units: _ms in milliseconds; altitude_error_ft in feet; vertical_speed_fpm in ft/min; displacement and the controls in fractions of travel; the sums in 2^-24 of
-- that times milliseconds
-- Source: ours. Steps between neighbours of one stretch, the mean of both times the time between them, where it is no longer than the channel's gap limit; a
-- stretch ends at a gap in the altitude. The sums run over all events in order and in whole 2^-24ths, so that the difference of
-- two of them is exact whatever came before.
CREATE OR REPLACE TABLE settling_sums AS
WITH gaps AS (
    SELECT
        *,
        COALESCE(LAG(maneuver_no) OVER () <> maneuver_no, TRUE) AS is_first,
        has_altitude
        AND LAG(CASE WHEN has_altitude THEN maneuver_no END IGNORE NULLS) OVER () = maneuver_no
        AND t_ms - LAG(CASE WHEN has_altitude THEN t_ms END IGNORE NULLS) OVER () > gap_limit_ms AS is_after_gap
    FROM settling_rows
),

stretches AS (
    SELECT
        *,
        CAST(
            SUM(CASE WHEN is_first OR COALESCE(is_after_gap, FALSE) THEN 1 ELSE 0 END) OVER (
                ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
            ) AS INTEGER
        ) AS stretch_id
    FROM gaps
),

neighbours AS (
    SELECT
        *,
        CASE
            WHEN LAG(CASE WHEN vertical_speed_fpm IS NOT NULL THEN stretch_id END IGNORE NULLS) OVER () = stretch_id
                THEN t_ms - LAG(CASE WHEN vertical_speed_fpm IS NOT NULL THEN t_ms END IGNORE NULLS) OVER ()
        END AS speed_step_ms,
        CASE
            WHEN LAG(CASE WHEN displacement IS NOT NULL THEN stretch_id END IGNORE NULLS) OVER () = stretch_id
                THEN t_ms - LAG(CASE WHEN displacement IS NOT NULL THEN t_ms END IGNORE NULLS) OVER ()
        END AS displacement_step_ms,
        CASE
            WHEN LAG(CASE WHEN pitch_control IS NOT NULL THEN stretch_id END IGNORE NULLS) OVER () = stretch_id
                THEN t_ms - LAG(CASE WHEN pitch_control IS NOT NULL THEN t_ms END IGNORE NULLS) OVER ()
        END AS control_step_ms,
        (vertical_speed_fpm + LAG(vertical_speed_fpm IGNORE NULLS) OVER ()) / 2 AS mid_vertical_speed,
        (displacement + LAG(displacement IGNORE NULLS) OVER ()) / 2 AS mid_displacement,
        (pitch_control + LAG(pitch_control IGNORE NULLS) OVER ()) / 2 AS mid_control
    FROM stretches
),

pieces AS (
    SELECT
        *,
        CASE WHEN mid_vertical_speed IS NOT NULL AND speed_step_ms <= speed_gap_ms THEN speed_step_ms ELSE 0 END AS speed_ms,
        CASE WHEN mid_displacement IS NOT NULL AND displacement_step_ms <= displacement_gap_ms THEN displacement_step_ms ELSE 0 END AS displaced_ms,
        CASE WHEN mid_control IS NOT NULL AND control_step_ms <= control_gap_ms THEN control_step_ms ELSE 0 END AS control_ms
    FROM neighbours
),

areas AS (
    SELECT
        *,
        CASE WHEN speed_ms > 0 THEN CAST(ROUND(mid_vertical_speed * speed_ms * 16777216) AS BIGINT) ELSE 0 END AS speed_area,
        CASE WHEN displaced_ms > 0 THEN CAST(ROUND(mid_displacement * displaced_ms * 16777216) AS BIGINT) ELSE 0 END AS displacement_area,
        CASE WHEN control_ms > 0 THEN CAST(ROUND(mid_control * control_ms * 16777216) AS BIGINT) ELSE 0 END AS control_area
    FROM pieces
)

SELECT
    CAST(ROW_NUMBER() OVER () AS INTEGER) AS row_no,
    maneuver_no,
    stretch_id,
    t_ms,
    mean_ms,
    has_altitude,
    altitude_error_ft,
    vertical_speed_fpm,
    displacement,
    pitch_control,
    pitch_trim,
    CAST(SUM(speed_ms) OVER so_far AS BIGINT) AS speed_up_to_ms,
    CAST(SUM(displaced_ms) OVER so_far AS BIGINT) AS displaced_up_to_ms,
    CAST(SUM(control_ms) OVER so_far AS BIGINT) AS control_up_to_ms,
    CAST(SUM(speed_area) OVER so_far AS BIGINT) AS speeds_up_to,
    CAST(SUM(displacement_area) OVER so_far AS BIGINT) AS displacements_up_to,
    CAST(SUM(control_area) OVER so_far AS BIGINT) AS controls_up_to
FROM areas
WINDOW so_far AS (ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW);
