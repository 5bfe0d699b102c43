-- One row is a stretch of level flight in which nobody moved the control: at neutral and still. A TABLE: read once and kept.
-- Inputs: maneuver_windows, stored_sessions, second_means, bound_neutrals, devices, limits
-- Grain: maneuver_id, stretch_no
-- Units: start_s and end_s in seconds from the session's start; wander_ft in feet; periods in seconds
-- Kept: one file beside each samples file
-- Source: ours. A second counts when the control is within settle_control of neutral and within hands_off_still of its mean over the last ten
-- such seconds; a stretch lasts hands_off_minimum_s or longer without a missing second. wander_ft is the largest distance from the
-- stretch's own mean altitude. period_s is twice the mean time between the vertical speed's passages through its mean (at least three
-- passages), to hold against Lanchester's sqrt(2) pi V / g with true airspeed from indicated (standard atmosphere); real machines
-- run 5 to 21 % longer than that.
CREATE OR REPLACE TABLE hands_off_readings AS
WITH levels AS (
    SELECT
        w.maneuver_id,
        n.pitch_neutral,
        w.target_altitude_ft
    FROM maneuver_windows AS w
    INNER JOIN stored_sessions AS s ON w.session_id = s.session_id AND w.revision = s.revision
    INNER JOIN bound_neutrals AS n ON s.device_id = n.device_id AND s.session_date = n.session_date
    WHERE
        w.kind IN ('level', 'level_off', 'power_change')
        AND n.pitch_neutral IS NOT NULL
        AND NOT EXISTS (
            SELECT 1
            FROM devices AS d
            WHERE d.device_id = s.device_id AND d.control = 'free'
        )
),

still_seconds AS (
    SELECT
        m.maneuver_id,
        m.second_no,
        m.altitude_error_ft,
        m.vertical_speed_fpm,
        m.airspeed_kt,
        w.target_altitude_ft
    FROM second_means AS m
    INNER JOIN levels AS w ON m.maneuver_id = w.maneuver_id
    CROSS JOIN limits AS l
    WHERE ABS(m.pitch_control - w.pitch_neutral) <= l.settle_control
    QUALIFY
        ABS(
            m.pitch_control - AVG(m.pitch_control) OVER (
                PARTITION BY m.maneuver_id
                ORDER BY m.second_no
                RANGE BETWEEN 10 PRECEDING AND CURRENT ROW
            )
        ) <= l.hands_off_still
),

islands AS (
    SELECT
        *,
        second_no - ROW_NUMBER() OVER (PARTITION BY maneuver_id ORDER BY second_no) AS island
    FROM still_seconds
),

passages AS (
    SELECT
        i.*,
        SIGN(i.vertical_speed_fpm - AVG(i.vertical_speed_fpm) OVER whole) AS side,
        AVG(i.altitude_error_ft) OVER whole AS mean_error_ft
    FROM islands AS i
    WINDOW whole AS (PARTITION BY i.maneuver_id, i.island)
),

crossings AS (
    SELECT
        *,
        side <> LAG(side) OVER (PARTITION BY maneuver_id, island ORDER BY second_no) AS is_passage
    FROM passages
),

stretches AS (
    SELECT
        c.maneuver_id,
        CAST(MIN(c.second_no) AS DOUBLE) AS start_s,
        CAST(MAX(c.second_no) + 1 AS DOUBLE) AS end_s,
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
