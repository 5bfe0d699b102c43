-- One row is a level-off or power change and how soon it was trimmed and left alone. A TABLE: it is read once, from only those seconds, and kept.
-- Inputs: retrim_events, settling_steps, limits
-- Grain: maneuver_id
-- Units: all _s in seconds from the event's start
-- Kept: one file beside each samples file
-- Source: ours. Settled: the first moment from which, for settle_hold_s, vertical speed (mean of the last settle_mean_s), altitude error and
-- control displacement from neutral (the same mean) stay within their limits. Set: the first from which, for set_hold_s, the control is at neutral, the
-- trim untouched, altitude inside settle_altitude_ft and the mean vertical speed within its limit. Means restart after a gap; a hold does not
-- cross one. Null times are censored at followed_s (event's length less the hold), or unknown where settling_reason says so.
CREATE OR REPLACE TABLE settling_readings AS
WITH steps AS MATERIALIZED (
    SELECT * FROM settling_steps
),

ahead AS (
    SELECT
        j.maneuver_id,
        j.t_ms,
        j.stretch_no,
        j.has_altitude
        AND j.stretch_end_ms >= j.t_ms + j.settle_hold_ms
        AND BOOL_AND(COALESCE(j.is_control_off AND j.is_on_altitude AND j.is_level, FALSE)) OVER settle_window AS is_settling,
        j.has_altitude
        AND j.stretch_end_ms >= j.t_ms + j.set_hold_ms
        AND BOOL_AND(COALESCE(j.is_control_off AND j.is_on_altitude, FALSE)) OVER set_window
        AND COALESCE(MAX(j.pitch_trim) OVER set_window - MIN(j.pitch_trim) OVER set_window <= l.set_trim_still, FALSE)
        AND COALESCE(
            ABS(
                COALESCE(
                    SUM(j.mid_vertical_speed * j.speed_ms) OVER after_now / NULLIF(SUM(j.speed_ms) OVER after_now, 0),
                    AVG(j.vertical_speed_fpm) OVER set_window
                )
            ) <= l.settle_vertical_speed_fpm,
            FALSE
        ) AS is_setting
    FROM steps AS j
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
        ),
        after_now AS (
            PARTITION BY j.maneuver_id, j.stretch_no
            ORDER BY j.t_ms
            RANGE BETWEEN 1 FOLLOWING AND j.set_hold_ms FOLLOWING
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
        COUNT(*) FILTER (WHERE has_altitude) AS altitudes,
        COUNT(displacement) AS displacements,
        COUNT(pitch_control) AS controls,
        COUNT(vertical_speed_fpm) AS vertical_speeds,
        COUNT(pitch_trim) AS trims
    FROM steps
    GROUP BY maneuver_id
),

reasons AS (
    SELECT
        e.*,
        c.trims,
        CASE
            WHEN COALESCE(c.altitudes, 0) = 0 THEN 'no altitude recorded'
            WHEN e.median_step_s > l.excursion_step_limit_s THEN 'samples are too far apart to time a settling'
            WHEN e.target_altitude_ft IS NULL THEN 'no target altitude'
            WHEN c.vertical_speeds = 0 THEN 'no vertical speed: none logged, and altitude too coarse or too seldom to derive it'
            WHEN c.controls = 0 AND c.displacements = 0 THEN 'pitch control not logged'
            WHEN e.control = 'centring' AND e.pitch_neutral IS NULL THEN 'no neutral for the device on that day'
        END AS settling_reason
    FROM retrim_events AS e
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
    CASE WHEN r.settling_reason IS NULL THEN COALESCE(f.settle_stretch, 0) > 0 END AS is_upper_bound,
    CASE WHEN r.settling_reason IS NULL THEN COALESCE(f.set_stretch, 0) > 0 END AS is_set_upper_bound,
    COALESCE(r.settling_reason, CASE WHEN r.trims = 0 THEN 'pitch trim not logged: trim_set_s unknown' END) AS settling_reason
FROM reasons AS r
CROSS JOIN limits AS l
LEFT JOIN first_moments AS f ON r.maneuver_id = f.maneuver_id
ORDER BY r.maneuver_id;
