-- One row is a stretch of level flight in which nobody moved the control: at neutral and still. A TABLE: read once and kept.
-- Inputs: maneuver_windows, session_controls, second_means, bound_neutrals, slow_channels, limits
-- Grain: maneuver_id, stretch_no
-- Units: start_s and end_s in seconds from the session's start; wander_ft in feet; periods in seconds
-- Kept: one file beside each samples file
-- Source: ours. A second counts when the control is within settle_control of neutral and within hands_off_still of its mean over those of the last
-- hands_off_mean_s seconds that were, and no autopilot was on; a stretch lasts hands_off_minimum_s or longer without another second or a gap between.
-- wander_ft is the largest distance from the stretch's own mean altitude. period_s is twice the mean time between the vertical speed's passages
-- through its mean (at least three passages), to hold against Lanchester's sqrt(2) pi V / g with true airspeed from indicated (standard atmosphere);
-- real machines run 5 to 21 % longer than that.
CREATE OR REPLACE TABLE hands_off_readings AS
WITH levels AS (
    SELECT
        w.maneuver_id,
        w.start_s,
        w.end_s,
        n.pitch_neutral,
        w.target_altitude_ft,
        COALESCE(c.gap_limit_ms, w.gap_limit_ms) AS gap_limit_ms
    FROM maneuver_windows AS w
    INNER JOIN session_controls AS k ON w.session_id = k.session_id AND w.revision = k.revision
    INNER JOIN bound_neutrals AS n ON w.device_id = n.device_id AND w.session_date = n.session_date
    LEFT JOIN slow_channels AS c ON w.session_id = c.session_id AND w.revision = c.revision AND c.channel = 'pitch_control'
    WHERE w.kind IN ('level', 'level_off', 'power_change') AND n.pitch_neutral IS NOT NULL AND k.control = 'centring'
),

control_seconds AS (
    SELECT
        m.maneuver_id,
        m.second_no,
        m.altitude_error_ft,
        m.vertical_speed_fpm,
        m.airspeed_kt,
        m.pitch_control,
        w.start_s,
        w.end_s,
        w.target_altitude_ft,
        w.gap_limit_ms,
        l.hands_off_still,
        CAST(l.hands_off_mean_s AS INTEGER) - 1 AS mean_reach,
        ABS(m.pitch_control - w.pitch_neutral) <= l.settle_control AS is_at_neutral,
        NOT COALESCE(m.is_autopilot_on, FALSE) AS is_by_hand
    FROM second_means AS m
    INNER JOIN levels AS w ON m.maneuver_id = w.maneuver_id
    CROSS JOIN limits AS l
    WHERE m.pitch_control IS NOT NULL
),

judged_seconds AS (
    SELECT
        *,
        is_at_neutral
        AND is_by_hand
        AND ABS(
            pitch_control - AVG(pitch_control) FILTER (WHERE is_at_neutral) OVER (
                PARTITION BY maneuver_id
                ORDER BY second_no
                RANGE BETWEEN mean_reach PRECEDING AND CURRENT ROW
            )
        ) <= hands_off_still AS is_still,
        COALESCE(
            (second_no - LAG(second_no) OVER (PARTITION BY maneuver_id ORDER BY second_no) - 1) * 1000 >= gap_limit_ms,
            FALSE
        ) AS is_after_gap
    FROM control_seconds
),

numbered_seconds AS (
    SELECT
        *,
        SUM(CASE WHEN is_after_gap OR NOT is_still THEN 1 ELSE 0 END) OVER (PARTITION BY maneuver_id ORDER BY second_no) AS island
    FROM judged_seconds
),

passages AS (
    SELECT
        i.*,
        SIGN(i.vertical_speed_fpm - AVG(i.vertical_speed_fpm) OVER whole) AS side,
        AVG(i.altitude_error_ft) OVER whole AS mean_error_ft
    FROM numbered_seconds AS i
    WHERE i.is_still
    WINDOW whole AS (PARTITION BY i.maneuver_id, i.island)
),

crossings AS (
    SELECT
        *,
        side <> 0 AND side <> LAG(NULLIF(side, 0) IGNORE NULLS) OVER (PARTITION BY maneuver_id, island ORDER BY second_no) AS is_passage
    FROM passages
),

stretches AS (
    SELECT
        c.maneuver_id,
        GREATEST(CAST(MIN(c.second_no) AS DOUBLE), ANY_VALUE(c.start_s)) AS start_s,
        LEAST(CAST(MAX(c.second_no) + 1 AS DOUBLE), ANY_VALUE(c.end_s)) AS end_s,
        MAX(ABS(c.altitude_error_ft - c.mean_error_ft)) AS wander_ft,
        COUNT(*) FILTER (WHERE c.is_passage) AS passages,
        MAX(c.second_no) FILTER (WHERE c.is_passage) - MIN(c.second_no) FILTER (WHERE c.is_passage) AS passing_s,
        AVG(c.airspeed_kt) AS airspeed_kt,
        AVG(c.altitude_error_ft) + ANY_VALUE(COALESCE(c.target_altitude_ft, 0)) AS altitude_ft
    FROM crossings AS c
    GROUP BY c.maneuver_id, c.island
)

SELECT
    s.maneuver_id,
    CAST(ROW_NUMBER() OVER (PARTITION BY s.maneuver_id ORDER BY s.start_s) AS INTEGER) AS stretch_no,
    s.start_s,
    s.end_s,
    ROUND(s.wander_ft, 6) AS wander_ft,
    CASE WHEN s.passages >= 3 THEN ROUND(CAST(2 * s.passing_s AS DOUBLE) / (s.passages - 1), 6) END AS period_s,
    ROUND(
        l.lanchester_s_per_kt * s.airspeed_kt / SQRT(POWER(1 - 6.8756e-6 * s.altitude_ft, 4.2559)),
        6
    ) AS lanchester_period_s
FROM stretches AS s
CROSS JOIN limits AS l
WHERE s.end_s - s.start_s >= l.hands_off_minimum_s
ORDER BY s.maneuver_id, stretch_no;
