-- One row is one second of a maneuver: the means of the channels' samples in it. A TABLE: several figures are read from it, so that they do not depend on the recorder's rate.
-- Inputs: stored_samples, maneuver_windows, vertical_speed_points, heading_points, heading_starts
-- Grain: maneuver_id, second_no
-- Units: second_no in whole seconds from the session's start; each mean in the unit of its name; altitude and heading as errors where there is a target
-- Source: the recorder; null where a channel has no sample in that second, and no row where no channel has one
CREATE OR REPLACE TABLE second_means AS
WITH recorded AS (
    SELECT
        w.maneuver_id,
        CAST(p.t_ms // 1000 AS INTEGER) AS second_no,
        AVG(p.altitude_ft - COALESCE(w.target_altitude_ft, 0)) AS altitude_error_ft,
        AVG(p.airspeed_kt) AS airspeed_kt,
        AVG(p.pitch_control) AS pitch_control,
        AVG(p.roll_control) AS roll_control,
        AVG(p.pitch_force) AS pitch_force,
        AVG(p.pitch_trim) AS pitch_trim,
        AVG(p.bank_deg) AS bank_deg,
        AVG(p.pitch_deg) AS pitch_deg,
        AVG(p.power) AS power,
        BOOL_OR(p.autopilot) AS is_autopilot_on,
        BOOL_OR(p.on_ground) AS is_on_ground
    FROM stored_samples AS p
    INNER JOIN maneuver_windows AS w
        ON
            p.session_id = w.session_id AND p.revision = w.revision
            AND p.t_ms >= w.start_ms AND p.t_ms <= w.end_ms
    GROUP BY w.maneuver_id, second_no
),

headings AS (
    SELECT
        w.maneuver_id,
        CAST(p.t_ms // 1000 AS INTEGER) AS second_no,
        AVG(p.value - COALESCE(h.reference_deg, 0)) AS heading_error_deg
    FROM heading_points AS p
    INNER JOIN maneuver_windows AS w
        ON
            p.session_id = w.session_id AND p.revision = w.revision
            AND p.t_ms >= w.start_ms AND p.t_ms <= w.end_ms
    LEFT JOIN heading_starts AS h ON w.maneuver_id = h.maneuver_id
    GROUP BY w.maneuver_id, second_no
),

vertical_speeds AS (
    SELECT
        w.maneuver_id,
        CAST(p.t_ms // 1000 AS INTEGER) AS second_no,
        AVG(p.value) AS vertical_speed_fpm
    FROM vertical_speed_points AS p
    INNER JOIN maneuver_windows AS w
        ON
            p.session_id = w.session_id AND p.revision = w.revision
            AND p.t_ms >= w.start_ms AND p.t_ms <= w.end_ms
    GROUP BY w.maneuver_id, second_no
)

SELECT
    r.maneuver_id,
    r.second_no,
    r.altitude_error_ft,
    h.heading_error_deg,
    v.vertical_speed_fpm,
    r.airspeed_kt,
    r.pitch_control,
    r.roll_control,
    r.pitch_force,
    r.pitch_trim,
    r.bank_deg,
    r.pitch_deg,
    r.power,
    r.is_autopilot_on,
    r.is_on_ground
FROM recorded AS r
LEFT JOIN headings AS h ON r.maneuver_id = h.maneuver_id AND r.second_no = h.second_no
LEFT JOIN vertical_speeds AS v ON r.maneuver_id = v.maneuver_id AND r.second_no = v.second_no
ORDER BY r.maneuver_id, r.second_no;
