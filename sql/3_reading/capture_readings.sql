-- One row is a climb, descent or level-off and how its altitude was captured. A TABLE: read once and kept.
-- Inputs: maneuver_windows, event_seconds, limits
-- Grain: maneuver_id
-- Units: _fpm in ft/min, positive up; _ft in feet; _s in seconds from the maneuver's start
-- Kept: one file beside each samples file
-- Source: ours, on the means of each second. entry_rate_fpm is the largest mean of five seconds of vertical speed, from capture_before_s before a level-off to
-- as long after its start; of a climb or descent, over all of it. lead_ft is the altitude still to go when the rate has fallen below half
-- of that (FAA Instrument Flying Handbook: lead a level-off by a tenth of the rate). overshoot_ft is how far beyond the target it went
-- on. capture_s is the first second from which altitude stays within capture_altitude_ft, and the rate within capture_rate_fpm, for
-- capture_hold_s (of a climb or descent, the first second within the altitude band); null where that never happened before the end.
CREATE OR REPLACE TABLE capture_readings AS
WITH seconds AS (
    SELECT
        w.maneuver_id,
        w.kind,
        w.start_s,
        w.end_s,
        e.second_no,
        e.second_no - w.start_s AS since_s,
        e.altitude_ft - w.target_altitude_ft AS error_ft,
        AVG(e.vertical_speed_fpm) OVER (
            PARTITION BY w.maneuver_id
            ORDER BY e.second_no
            RANGE BETWEEN 4 PRECEDING AND CURRENT ROW
        ) AS rate_fpm,
        COUNT(e.altitude_ft) OVER ahead AS seconds_ahead,
        MAX(ABS(e.altitude_ft - w.target_altitude_ft)) OVER ahead AS worst_ahead_ft,
        MAX(ABS(e.vertical_speed_fpm)) OVER ahead AS fastest_ahead_fpm
    FROM maneuver_windows AS w
    CROSS JOIN limits AS l
    INNER JOIN event_seconds AS e ON w.maneuver_id = e.maneuver_id
    WHERE w.kind IN ('level_off', 'climb', 'descent')
    WINDOW ahead AS (
        PARTITION BY w.maneuver_id
        ORDER BY e.second_no
        RANGE BETWEEN CURRENT ROW AND CAST(l.capture_hold_s AS INTEGER) - 1 FOLLOWING
    )
),

entries AS (
    SELECT
        s.maneuver_id,
        ARG_MAX(s.rate_fpm, ABS(s.rate_fpm)) AS entry_rate_fpm,
        ARG_MAX(s.second_no, ABS(s.rate_fpm)) AS entry_no
    FROM seconds AS s
    CROSS JOIN limits AS l
    WHERE s.kind <> 'level_off' OR s.since_s <= l.capture_before_s
    GROUP BY s.maneuver_id
),

leads AS (
    SELECT
        s.maneuver_id,
        -SIGN(n.entry_rate_fpm) * ARG_MIN(s.error_ft, s.second_no) AS lead_ft
    FROM seconds AS s
    INNER JOIN entries AS n ON s.maneuver_id = n.maneuver_id
    WHERE
        s.kind = 'level_off'
        AND s.second_no > n.entry_no
        AND s.rate_fpm * SIGN(n.entry_rate_fpm) < ABS(n.entry_rate_fpm) / 2
    GROUP BY s.maneuver_id, n.entry_rate_fpm
)

SELECT
    s.maneuver_id,
    ANY_VALUE(n.entry_rate_fpm) AS entry_rate_fpm,
    ANY_VALUE(d.lead_ft) AS lead_ft,
    CASE
        WHEN COUNT(s.error_ft) FILTER (WHERE s.since_s >= 0) > 0 AND ANY_VALUE(n.entry_rate_fpm) IS NOT NULL
            THEN GREATEST(MAX(SIGN(n.entry_rate_fpm) * s.error_ft) FILTER (WHERE s.since_s >= 0), 0)
    END AS overshoot_ft,
    MIN(s.since_s) FILTER (
        WHERE s.since_s >= 0
        AND ABS(s.error_ft) <= l.capture_altitude_ft
        AND (
            s.kind <> 'level_off'
            OR (
                s.seconds_ahead >= l.capture_hold_s
                AND s.worst_ahead_ft <= l.capture_altitude_ft
                AND s.fastest_ahead_fpm <= l.capture_rate_fpm
            )
        )
    ) AS capture_s,
    COUNT(s.error_ft) FILTER (WHERE s.since_s >= 0) > 0 AS has_error
FROM seconds AS s
CROSS JOIN limits AS l
LEFT JOIN entries AS n ON s.maneuver_id = n.maneuver_id
LEFT JOIN leads AS d ON s.maneuver_id = d.maneuver_id
GROUP BY s.maneuver_id
ORDER BY s.maneuver_id;
