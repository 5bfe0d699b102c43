-- One row is a sample within a maneuver, its channels side by side, four of them with their value in the sample before. A TABLE: measuring reads the
-- samples once here, some sessions at a time; pages and explanations of a few maneuvers read observations in its place.
-- Inputs: stored_samples, maneuver_numbers
-- Grain: maneuver_no, t_ms
-- Units: t_ms in milliseconds from the session's start; step_ms and next_step_ms in milliseconds; each channel's unit is in its name
-- Source: the recorder. Altitude and heading are errors from the target (headings in (-180, 180]); where there is none, what was recorded.
-- The neighbours come from LAG and LEAD over the scan in stored order, before any join, which landing wrote by session and time and which
-- measuring guards. step_ms is null for the first sample of the maneuver and across a step longer than the session's gap limit, next_step_ms
-- likewise. A previous heading is the short way before the heading, so that it may lie beyond half a turn: there, and where a channel
-- has blank cells, patchy_observations has the neighbours. cell_no cuts time so that few samples meet a maneuver that they are not in.
CREATE OR REPLACE TABLE placed_samples AS
WITH neighbours AS (
    SELECT
        session_id,
        revision,
        t_ms,
        LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision AS has_previous,
        LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision AS has_next,
        t_ms - LAG(t_ms) OVER () AS step_ms,
        LEAD(t_ms) OVER () - t_ms AS next_step_ms,
        altitude_ft,
        LAG(altitude_ft) OVER () AS previous_altitude_ft,
        CAST(heading_deg AS DOUBLE) AS heading_deg,
        CAST(heading_deg AS DOUBLE) - LAG(heading_deg) OVER () AS turned_deg,
        vertical_speed_fpm,
        LAG(vertical_speed_fpm) OVER () AS previous_vertical_speed_fpm,
        airspeed_kt,
        LAG(airspeed_kt) OVER () AS previous_airspeed_kt,
        bank_deg,
        pitch_deg,
        pitch_control,
        roll_control,
        pitch_force,
        pitch_trim,
        power,
        autopilot,
        on_ground
    FROM stored_samples
),

cells AS (
    SELECT
        maneuver_no,
        session_id,
        revision,
        start_ms,
        end_ms,
        gap_limit_ms,
        COALESCE(target_altitude_ft, 0) AS target_altitude_ft,
        target_heading_deg,
        UNNEST(RANGE(start_ms // 16384, end_ms // 16384 + 1)) AS cell_no
    FROM maneuver_numbers
),

placed AS (
    SELECT
        c.maneuver_no,
        p.t_ms,
        CASE WHEN p.has_previous AND p.t_ms - p.step_ms >= c.start_ms AND p.step_ms <= c.gap_limit_ms THEN p.step_ms END AS step_ms,
        CASE WHEN p.has_next AND p.t_ms + p.next_step_ms <= c.end_ms AND p.next_step_ms <= c.gap_limit_ms THEN p.next_step_ms END AS next_step_ms,
        p.altitude_ft - c.target_altitude_ft AS altitude_error_ft,
        p.previous_altitude_ft - c.target_altitude_ft AS previous_altitude_error_ft,
        CASE
            WHEN c.target_heading_deg IS NULL THEN p.heading_deg
            ELSE p.heading_deg - c.target_heading_deg - 360 * CEIL((p.heading_deg - c.target_heading_deg - 180) / 360)
        END AS heading_error_deg,
        p.turned_deg - 360 * CEIL((p.turned_deg - 180) / 360) AS turned_deg,
        p.vertical_speed_fpm,
        p.previous_vertical_speed_fpm,
        p.airspeed_kt,
        p.previous_airspeed_kt,
        p.bank_deg,
        p.pitch_deg,
        p.pitch_control,
        p.roll_control,
        p.pitch_force,
        p.pitch_trim,
        p.power,
        p.autopilot,
        p.on_ground
    FROM neighbours AS p
    INNER JOIN cells AS c
        ON
            p.session_id = c.session_id AND p.revision = c.revision AND p.t_ms // 16384 = c.cell_no
            AND p.t_ms >= c.start_ms AND p.t_ms <= c.end_ms
)

SELECT
    maneuver_no,
    t_ms,
    step_ms,
    next_step_ms,
    altitude_error_ft,
    previous_altitude_error_ft,
    heading_error_deg,
    heading_error_deg - turned_deg AS previous_heading_error_deg,
    vertical_speed_fpm,
    previous_vertical_speed_fpm,
    airspeed_kt,
    previous_airspeed_kt,
    bank_deg,
    pitch_deg,
    pitch_control,
    roll_control,
    pitch_force,
    pitch_trim,
    power,
    autopilot,
    on_ground
FROM placed;
