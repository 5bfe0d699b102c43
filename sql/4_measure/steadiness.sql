-- One row is how steadily a maneuver was flown: vertical speed, movements of the control and of the trim.
-- Inputs: maneuvers, sessions, channel_sums, excursion_runs, control_turns, trim_moves, limits
-- Grain: maneuver_id
-- Units: vertical_speed_rms_fpm in ft/min; near_zero_vs as a fraction of time within near_zero_vertical_speed_fpm; control_sd in fractions of travel; trim figures are counts
-- Source: ours; a held altitude with many reversals is needle chasing. Null, with steadiness_reason, where a channel was not logged.
CREATE OR REPLACE VIEW steadiness AS
WITH off_zero AS (
    SELECT
        r.maneuver_id,
        SUM(r.end_s - r.start_s) AS off_zero_s
    FROM excursion_runs AS r
    INNER JOIN limits AS l ON ABS(r.edge) = l.near_zero_vertical_speed_fpm
    WHERE r.channel = 'vertical_speed'
    GROUP BY r.maneuver_id
),

directions AS (
    SELECT
        maneuver_id,
        SIGN(change) AS direction,
        LAG(SIGN(change)) OVER (PARTITION BY maneuver_id ORDER BY move_no) AS previous_direction
    FROM trim_moves
),

trims AS (
    SELECT
        maneuver_id,
        COUNT(*) AS trim_inputs,
        COUNT(*) FILTER (WHERE direction <> previous_direction) AS trim_reversals
    FROM directions
    GROUP BY maneuver_id
)

SELECT
    m.maneuver_id,
    ROUND(v.rms, 9) AS vertical_speed_rms_fpm,
    CASE WHEN v.observed_s IS NOT NULL THEN ROUND(GREATEST(1 - COALESCE(z.off_zero_s, 0) / v.observed_s, 0), 9) END AS near_zero_vs,
    ROUND(60.0::DOUBLE * t.turns / NULLIF(t.seconds, 0), 9) AS control_reversals_per_min,
    ROUND(c.spread, 9) AS control_sd,
    CASE WHEN w.maneuver_id IS NOT NULL THEN COALESCE(r.trim_inputs, 0) END AS trim_inputs,
    CASE WHEN w.maneuver_id IS NOT NULL THEN COALESCE(r.trim_reversals, 0) END AS trim_reversals,
    CASE WHEN v.observed_s IS NOT NULL THEN NOT LIST_CONTAINS(s.channels, 'vertical_speed_fpm') END AS is_vertical_speed_derived,
    NULLIF(
        CONCAT_WS(
            '; ',
            CASE
                WHEN v.observed_s IS NULL AND LIST_CONTAINS(s.channels, 'vertical_speed_fpm') THEN 'vertical speed not observed'
                WHEN v.observed_s IS NULL THEN 'vertical speed not logged, altitude too coarse or too seldom to derive it'
            END,
            CASE WHEN t.maneuver_id IS NULL THEN 'pitch control not logged' END,
            CASE WHEN w.maneuver_id IS NULL THEN 'pitch trim not logged' END
        ),
        ''
    ) AS steadiness_reason
FROM maneuvers AS m
INNER JOIN sessions AS s ON m.session_id = s.session_id
LEFT JOIN channel_sums AS v ON m.maneuver_id = v.maneuver_id AND v.channel = 'vertical_speed'
LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'pitch_control'
LEFT JOIN control_turns AS t ON m.maneuver_id = t.maneuver_id AND t.input = 'pitch_control'
LEFT JOIN control_turns AS w ON m.maneuver_id = w.maneuver_id AND w.input = 'pitch_trim'
LEFT JOIN trims AS r ON m.maneuver_id = r.maneuver_id
LEFT JOIN off_zero AS z ON m.maneuver_id = z.maneuver_id;
