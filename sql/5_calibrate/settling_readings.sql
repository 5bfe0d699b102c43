-- One row is a level-off or power change and how soon it was trimmed and left alone. A TABLE: it is read once, from only those seconds, and kept.
-- Inputs: maneuver_windows, stored_sessions, stored_samples, vertical_speed_points, bound_neutrals, devices, limits
-- Grain: maneuver_id
-- Units: all _s in seconds from the event's start
-- Kept: one file beside each samples file
-- Source: ours. Settled: the first moment from which, for settle_hold_s, vertical speed (mean of the last settle_mean_s), altitude error and
-- control displacement from neutral (the same mean) stay within their limits. Set: the first from which, for set_hold_s, the control is at neutral, the
-- trim untouched, altitude inside settle_altitude_ft and the mean vertical speed within its limit. Means restart after a gap; a hold does not
-- cross one. Null times are censored at followed_s (event's length less the hold), or unknown where settling_reason says so.
CREATE OR REPLACE TABLE settling_readings AS
WITH control_kinds AS (
    SELECT
        s.session_id,
        s.revision,
        COALESCE(ARG_MAX(d.control, COALESCE(d.valid_from, DATE '1900-01-01')), 'centring') AS control
    FROM stored_sessions AS s
    LEFT JOIN devices AS d ON s.device_id = d.device_id AND s.session_date >= COALESCE(d.valid_from, DATE '1900-01-01')
    GROUP BY s.session_id, s.revision
),

events AS (
    SELECT
        w.maneuver_id,
        w.session_id,
        w.revision,
        w.start_ms,
        w.end_ms,
        w.gap_limit_ms,
        w.median_step_s,
        w.target_altitude_ft,
        k.control,
        n.pitch_neutral,
        CAST(l.settle_mean_s * 1000 - 1 AS INTEGER) AS mean_ms,
        CAST(l.settle_hold_s * 1000 AS INTEGER) AS settle_hold_ms,
        CAST(l.set_hold_s * 1000 AS INTEGER) AS set_hold_ms
    FROM maneuver_windows AS w
    CROSS JOIN limits AS l
    INNER JOIN control_kinds AS k ON w.session_id = k.session_id AND w.revision = k.revision
    LEFT JOIN bound_neutrals AS n ON w.device_id = n.device_id AND w.session_date = n.session_date
    WHERE w.kind IN ('level_off', 'power_change')
),

rows_in_order AS (
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
    FROM events AS e
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
),

judged AS (
    SELECT
        t.*,
        CASE
            WHEN e.control = 'centring' OR t.mean_displacement IS NOT NULL THEN ABS(t.mean_displacement) <= l.settle_control
            ELSE ABS(t.pitch_control - t.mean_control) <= l.hands_off_still
        END AS is_control_off,
        ABS(t.altitude_error_ft) <= l.settle_altitude_ft AS is_on_altitude,
        ABS(t.mean_vertical_speed) <= l.settle_vertical_speed_fpm AS is_level
    FROM recent_means AS t
    INNER JOIN events AS e ON t.maneuver_id = e.maneuver_id
    CROSS JOIN limits AS l
),

ahead AS (
    SELECT
        j.maneuver_id,
        j.t_ms,
        j.stretch_no,
        j.stretch_end_ms >= j.t_ms + j.settle_hold_ms
        AND BOOL_AND(COALESCE(j.is_control_off AND j.is_on_altitude AND j.is_level, FALSE)) OVER settle_window AS is_settling,
        j.stretch_end_ms >= j.t_ms + j.set_hold_ms
        AND BOOL_AND(COALESCE(j.is_control_off AND j.is_on_altitude, FALSE)) OVER set_window
        AND COALESCE(MAX(j.pitch_trim) OVER set_window - MIN(j.pitch_trim) OVER set_window <= l.set_trim_still, FALSE)
        AND COALESCE(
            ABS(
                SUM(j.mid_vertical_speed * j.known_ms) OVER set_window
                / NULLIF(SUM(CASE WHEN j.mid_vertical_speed IS NOT NULL THEN j.known_ms END) OVER set_window, 0)
            ) <= l.settle_vertical_speed_fpm,
            FALSE
        ) AS is_setting
    FROM judged AS j
    CROSS JOIN limits AS l
    WINDOW
        settle_window AS (
            PARTITION BY j.maneuver_id, j.stretch_no
            ORDER BY j.t_ms
            RANGE BETWEEN CURRENT ROW AND j.settle_hold_ms FOLLOWING
        ),
        set_window AS (
            PARTITION BY j.maneuver_id, j.stretch_no
            ORDER BY j.t_ms
            RANGE BETWEEN CURRENT ROW AND j.set_hold_ms FOLLOWING
        )
),

first_moments AS (
    SELECT
        maneuver_id,
        MIN(t_ms) FILTER (WHERE is_settling) AS settle_ms,
        MIN(t_ms) FILTER (WHERE is_setting) AS set_ms,
        ARG_MIN(stretch_no, t_ms) FILTER (WHERE is_settling) AS settle_stretch,
        ARG_MIN(stretch_no, t_ms) FILTER (WHERE is_setting) AS set_stretch
    FROM ahead
    GROUP BY maneuver_id
),

coverage AS (
    SELECT
        maneuver_id,
        COUNT(displacement) AS displacements,
        COUNT(pitch_control) AS controls,
        COUNT(vertical_speed_fpm) AS vertical_speeds,
        COUNT(pitch_trim) AS trims
    FROM rows_in_order
    GROUP BY maneuver_id
),

reasons AS (
    SELECT
        e.*,
        c.trims,
        CASE
            WHEN c.maneuver_id IS NULL THEN 'no altitude recorded'
            WHEN e.median_step_s > l.excursion_step_limit_s THEN 'samples are too far apart to time a settling'
            WHEN e.target_altitude_ft IS NULL THEN 'no target altitude'
            WHEN c.vertical_speeds = 0 THEN 'vertical speed not logged, altitude too coarse to derive it'
            WHEN c.controls = 0 AND c.displacements = 0 THEN 'pitch control not logged'
            WHEN e.control = 'centring' AND e.pitch_neutral IS NULL THEN 'no neutral for the device on that day'
        END AS settling_reason
    FROM events AS e
    CROSS JOIN limits AS l
    LEFT JOIN coverage AS c ON e.maneuver_id = c.maneuver_id
)

SELECT
    r.maneuver_id,
    CASE WHEN r.settling_reason IS NULL THEN (f.settle_ms - r.start_ms) / 1000.0::DOUBLE END AS trim_settle_s,
    CASE WHEN r.settling_reason IS NULL THEN f.settle_ms IS NOT NULL END AS is_settled,
    CASE WHEN r.settling_reason IS NULL AND r.trims > 0 THEN (f.set_ms - r.start_ms) / 1000.0::DOUBLE END AS trim_set_s,
    CASE WHEN r.settling_reason IS NULL AND r.trims > 0 THEN f.set_ms IS NOT NULL END AS is_set,
    CASE WHEN r.settling_reason IS NULL THEN GREATEST((r.end_ms - r.start_ms) / 1000.0::DOUBLE - l.settle_hold_s, 0) END AS followed_s,
    CASE
        WHEN r.settling_reason IS NULL AND r.trims > 0 THEN GREATEST((r.end_ms - r.start_ms) / 1000.0::DOUBLE - l.set_hold_s, 0)
    END AS set_followed_s,
    CASE WHEN r.settling_reason IS NULL THEN COALESCE(f.settle_stretch, f.set_stretch, 0) > 0 END AS is_upper_bound,
    CASE WHEN r.settling_reason IS NULL THEN COALESCE(f.set_stretch, 0) > 0 END AS is_set_upper_bound,
    COALESCE(r.settling_reason, CASE WHEN r.trims = 0 THEN 'pitch trim not logged: trim_set_s unknown' END) AS settling_reason
FROM reasons AS r
CROSS JOIN limits AS l
LEFT JOIN first_moments AS f ON r.maneuver_id = f.maneuver_id
ORDER BY r.maneuver_id;
