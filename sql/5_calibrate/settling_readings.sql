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
WITH holds AS (
    SELECT
        CAST(settle_hold_s * 1000 AS INTEGER) AS settle_hold_ms,
        CAST(set_hold_s * 1000 AS INTEGER) AS set_hold_ms,
        set_trim_still,
        settle_vertical_speed_fpm
    FROM limits
),

judged AS (
    SELECT
        maneuver_id,
        t_ms,
        stretch_no,
        stretch_end_ms,
        has_altitude,
        vertical_speed_fpm,
        pitch_trim,
        speed_up_to_ms,
        speeds_up_to,
        COALESCE(is_control_off AND is_on_altitude AND is_level, FALSE) AS is_settled,
        COALESCE(is_control_off AND is_on_altitude, FALSE) AS is_set,
        CASE WHEN LEAD(maneuver_id) OVER () = maneuver_id AND LEAD(stretch_no) OVER () = stretch_no THEN LEAD(t_ms) OVER () END AS next_ms,
        COALESCE(LAG(maneuver_id) OVER () <> maneuver_id OR LAG(stretch_no) OVER () <> stretch_no, TRUE) AS is_begun
    FROM settling_steps
),

islands AS MATERIALIZED (
    SELECT
        *,
        SUM(CASE WHEN is_begun OR NOT is_settled THEN 1 ELSE 0 END) OVER so_far AS settled_island,
        SUM(CASE WHEN is_begun OR NOT is_set THEN 1 ELSE 0 END) OVER so_far AS set_island
    FROM judged
    WINDOW so_far AS (ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
),

settled_islands AS (
    SELECT
        settled_island,
        ANY_VALUE(maneuver_id) AS maneuver_id,
        ANY_VALUE(stretch_no) AS stretch_no,
        ANY_VALUE(stretch_end_ms) AS stretch_end_ms,
        MIN(t_ms) FILTER (WHERE has_altitude) AS first_ms,
        MAX(COALESCE(next_ms, 2147483647)) AS broken_ms
    FROM islands
    WHERE is_settled
    GROUP BY settled_island
),

settled AS (
    SELECT
        i.maneuver_id,
        MIN(i.first_ms) AS settle_ms,
        ARG_MIN(i.stretch_no, i.first_ms) AS settle_stretch
    FROM settled_islands AS i
    CROSS JOIN holds AS h
    WHERE i.broken_ms > i.first_ms + h.settle_hold_ms AND i.stretch_end_ms >= i.first_ms + h.settle_hold_ms
    GROUP BY i.maneuver_id
),

set_islands AS (
    SELECT
        i.set_island,
        MAX(COALESCE(i.next_ms, 2147483647)) AS broken_ms
    FROM islands AS i
    CROSS JOIN holds AS h
    WHERE i.is_set
    GROUP BY i.set_island, h.set_hold_ms
    HAVING MAX(COALESCE(i.next_ms, 2147483647)) > MIN(i.t_ms) + h.set_hold_ms AND MAX(i.stretch_end_ms) >= MIN(i.t_ms) + h.set_hold_ms
),

ahead AS (
    SELECT
        i.maneuver_id,
        i.t_ms,
        i.stretch_no,
        i.has_altitude AND s.broken_ms > i.t_ms + h.set_hold_ms AND i.stretch_end_ms >= i.t_ms + h.set_hold_ms AS is_long,
        MAX(i.pitch_trim) OVER set_window - MIN(i.pitch_trim) OVER set_window <= h.set_trim_still AS is_trim_still,
        ABS(
            COALESCE(
                (LAST_VALUE(i.speeds_up_to) OVER set_window - i.speeds_up_to)
                / 16777216
                / NULLIF(LAST_VALUE(i.speed_up_to_ms) OVER set_window - i.speed_up_to_ms, 0),
                AVG(i.vertical_speed_fpm) OVER set_window
            )
        ) <= h.settle_vertical_speed_fpm AS is_level
    FROM islands AS i
    CROSS JOIN holds AS h
    INNER JOIN set_islands AS s ON i.set_island = s.set_island
    WHERE i.is_set
    WINDOW set_window AS (
        PARTITION BY i.set_island
        ORDER BY i.t_ms
        RANGE BETWEEN CURRENT ROW AND h.set_hold_ms FOLLOWING
    )
),

set_moments AS (
    SELECT
        maneuver_id,
        MIN(t_ms) AS set_ms,
        ARG_MIN(stretch_no, t_ms) AS set_stretch
    FROM ahead
    WHERE is_long AND is_trim_still AND is_level
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
    FROM settling_steps
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
    CASE WHEN r.settling_reason IS NULL AND r.trims > 0 THEN (t.set_ms - r.start_ms) / 1000.0::DOUBLE END AS trim_set_s,
    CASE WHEN r.settling_reason IS NULL AND r.trims > 0 THEN t.set_ms IS NOT NULL END AS is_set,
    CASE WHEN r.settling_reason IS NULL THEN GREATEST((r.end_ms - r.start_ms) / 1000.0::DOUBLE - l.settle_hold_s, 0) END AS followed_s,
    CASE
        WHEN r.settling_reason IS NULL AND r.trims > 0 THEN GREATEST((r.end_ms - r.start_ms) / 1000.0::DOUBLE - l.set_hold_s, 0)
    END AS set_followed_s,
    CASE WHEN r.settling_reason IS NULL THEN COALESCE(f.settle_stretch, 0) > 0 END AS is_upper_bound,
    CASE WHEN r.settling_reason IS NULL THEN COALESCE(t.set_stretch, 0) > 0 END AS is_set_upper_bound,
    COALESCE(r.settling_reason, CASE WHEN r.trims = 0 THEN 'pitch trim not logged: trim_set_s unknown' END) AS settling_reason
FROM reasons AS r
CROSS JOIN limits AS l
LEFT JOIN settled AS f ON r.maneuver_id = f.maneuver_id
LEFT JOIN set_moments AS t ON r.maneuver_id = t.maneuver_id
ORDER BY r.maneuver_id;
