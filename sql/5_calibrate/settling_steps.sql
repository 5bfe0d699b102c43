-- One row is a sample of a level-off or power change and what settling asks of it: control off, on altitude, level. A TABLE, in order of maneuver and time, so
-- that neighbours are read in stored order.
-- Inputs: settling_sums, retrim_events, maneuver_numbers, limits
-- Grain: maneuver_id, t_ms
-- Units: t_ms in milliseconds from the session's start; altitude_error_ft in feet; vertical speeds in ft/min; displacement in fractions of travel
-- (a logged force counts in parts of settle_force_n); speed_up_to_ms in milliseconds, speeds_up_to in 2^-24 ft/min times that
-- Source: ours. Vertical speed and displacement are judged by their time-means over the last settle_mean_s (steps that end there, or the plain mean
-- of lone values), which restart after a gap in the altitude (stretch_no counts on). Each channel is read at its own rate: a blank cell
-- is not judged, and is no gap. A free control without a force is off when it rests within hands_off_still of its own mean. A mean is the
-- difference of two sums of settling_sums.
CREATE OR REPLACE TABLE settling_steps AS
WITH whole_stretches AS (
    SELECT
        stretch_id,
        ANY_VALUE(maneuver_no) AS maneuver_no,
        MAX(CASE WHEN has_altitude THEN t_ms END) AS stretch_end_ms,
        COUNT(vertical_speed_fpm) > 0 AS has_speed,
        COUNT(displacement) > 0 AS has_displacement,
        COUNT(pitch_control) > 0 AS has_control,
        MIN(t_ms) AS first_ms
    FROM settling_sums
    GROUP BY stretch_id
),

numbered_stretches AS (
    SELECT
        w.stretch_id,
        w.stretch_end_ms,
        w.has_speed,
        w.has_displacement,
        w.has_control,
        w.stretch_id - MIN(w.stretch_id) OVER (PARTITION BY w.maneuver_no) AS stretch_no,
        f.speed_up_to_ms AS speed_before_ms,
        f.displaced_up_to_ms AS displaced_before_ms,
        f.control_up_to_ms AS control_before_ms,
        f.speeds_up_to AS speeds_before,
        f.displacements_up_to AS displacements_before,
        f.controls_up_to AS controls_before
    FROM whole_stretches AS w
    INNER JOIN settling_sums AS f ON w.stretch_id = f.stretch_id AND w.first_ms = f.t_ms
),

looked_back AS (
    SELECT
        r.row_no,
        r.maneuver_no,
        r.stretch_id,
        r.t_ms,
        r.mean_ms,
        r.has_altitude,
        r.altitude_error_ft,
        r.vertical_speed_fpm,
        r.displacement,
        r.pitch_control,
        r.pitch_trim,
        r.speed_up_to_ms,
        r.displaced_up_to_ms,
        r.control_up_to_ms,
        r.speeds_up_to,
        r.displacements_up_to,
        r.controls_up_to,
        b.speed_up_to_ms AS speed_before_ms,
        b.displaced_up_to_ms AS displaced_before_ms,
        b.control_up_to_ms AS control_before_ms,
        b.speeds_up_to AS speeds_before,
        b.displacements_up_to AS displacements_before,
        b.controls_up_to AS controls_before
    FROM settling_sums AS r
    ASOF LEFT JOIN settling_sums AS b ON r.stretch_id = b.stretch_id AND r.t_ms - r.mean_ms > b.t_ms
),

recent AS (
    SELECT
        r.* EXCLUDE (speed_before_ms, displaced_before_ms, control_before_ms, speeds_before, displacements_before, controls_before),
        w.stretch_no,
        w.stretch_end_ms,
        w.has_speed,
        w.has_displacement,
        w.has_control,
        NULLIF(r.speed_up_to_ms - COALESCE(r.speed_before_ms, w.speed_before_ms), 0) AS speed_ms,
        NULLIF(r.displaced_up_to_ms - COALESCE(r.displaced_before_ms, w.displaced_before_ms), 0) AS displaced_ms,
        NULLIF(r.control_up_to_ms - COALESCE(r.control_before_ms, w.control_before_ms), 0) AS control_ms,
        (r.speeds_up_to - COALESCE(r.speeds_before, w.speeds_before)) / 16777216 AS speeds,
        (r.displacements_up_to - COALESCE(r.displacements_before, w.displacements_before)) / 16777216 AS displacements,
        (r.controls_up_to - COALESCE(r.controls_before, w.controls_before)) / 16777216 AS controls
    FROM looked_back AS r
    INNER JOIN numbered_stretches AS w ON r.stretch_id = w.stretch_id
),

lone AS (
    SELECT
        a.row_no,
        AVG(b.vertical_speed_fpm) AS vertical_speed_fpm,
        AVG(b.displacement) AS displacement,
        AVG(b.pitch_control) AS pitch_control
    FROM recent AS a
    INNER JOIN settling_sums AS b ON a.stretch_id = b.stretch_id AND b.t_ms >= a.t_ms - a.mean_ms AND b.t_ms <= a.t_ms
    WHERE (a.has_speed AND a.speed_ms IS NULL) OR (a.has_displacement AND a.displaced_ms IS NULL) OR (a.has_control AND a.control_ms IS NULL)
    GROUP BY a.row_no
),

means AS (
    SELECT
        a.*,
        COALESCE(a.speeds / a.speed_ms, l.vertical_speed_fpm) AS mean_vertical_speed,
        COALESCE(a.displacements / a.displaced_ms, l.displacement) AS mean_displacement,
        COALESCE(a.controls / a.control_ms, l.pitch_control) AS mean_control
    FROM recent AS a
    LEFT JOIN lone AS l ON a.row_no = l.row_no
)

SELECT
    n.maneuver_id,
    t.t_ms,
    t.stretch_no,
    t.stretch_end_ms,
    t.vertical_speed_fpm,
    t.displacement,
    t.pitch_control,
    t.pitch_trim,
    t.speed_up_to_ms,
    t.speeds_up_to,
    t.mean_vertical_speed,
    t.mean_displacement,
    t.has_altitude,
    CASE
        WHEN e.control = 'centring' OR t.mean_displacement IS NOT NULL THEN ABS(t.mean_displacement) <= l.settle_control
        WHEN t.pitch_control IS NULL THEN t.mean_control IS NOT NULL
        ELSE ABS(t.pitch_control - t.mean_control) <= l.hands_off_still
    END AS is_control_off,
    CASE WHEN t.has_altitude THEN ABS(t.altitude_error_ft) <= l.settle_altitude_ft ELSE TRUE END AS is_on_altitude,
    ABS(t.mean_vertical_speed) <= l.settle_vertical_speed_fpm AS is_level
FROM means AS t
CROSS JOIN limits AS l
INNER JOIN maneuver_numbers AS n ON t.maneuver_no = n.maneuver_no
INNER JOIN retrim_events AS e ON n.maneuver_id = e.maneuver_id
ORDER BY t.row_no;
