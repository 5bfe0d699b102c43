-- One row is one second of a turn, level-off, climb or descent, and of the time just before and after it: the means of its samples.
-- A TABLE: two readings are made from it.
-- Inputs: stored_samples, heading_points, vertical_speed_points, maneuver_windows, limits
-- Grain: maneuver_id, second_no
-- Units: second_no in whole seconds from the session's start; each mean in the unit of its name; heading_deg unwrapped along time
-- Source: the recorder. A level-off is read from capture_before_s before it, a turn until roll_out_s after it, or until the next turn begins.
CREATE OR REPLACE TABLE event_seconds AS
WITH turns AS (
    SELECT
        maneuver_id,
        LEAD(start_ms) OVER (PARTITION BY session_id, revision ORDER BY start_ms) AS next_turn_ms
    FROM maneuver_windows
    WHERE kind = 'turn'
),

spans AS (
    SELECT
        w.maneuver_id,
        w.session_id,
        w.revision,
        CASE WHEN w.kind = 'level_off' THEN w.start_ms - CAST(1000 * l.capture_before_s AS INTEGER) ELSE w.start_ms END AS from_ms,
        CASE
            WHEN w.kind = 'turn'
                THEN LEAST(w.end_ms + CAST(1000 * l.roll_out_s AS INTEGER), GREATEST(COALESCE(t.next_turn_ms, 2147483647), w.end_ms))
            ELSE w.end_ms
        END AS to_ms
    FROM maneuver_windows AS w
    CROSS JOIN limits AS l
    LEFT JOIN turns AS t ON w.maneuver_id = t.maneuver_id
    WHERE w.kind IN ('turn', 'level_off', 'climb', 'descent')
),

recorded AS (
    SELECT
        s.maneuver_id,
        CAST(p.t_ms // 1000 AS INTEGER) AS second_no,
        CAST(AVG(p.altitude_ft) AS DOUBLE) AS altitude_ft,
        CAST(AVG(p.bank_deg) AS DOUBLE) AS bank_deg
    FROM stored_samples AS p
    INNER JOIN spans AS s
        ON p.session_id = s.session_id AND p.revision = s.revision AND p.t_ms >= s.from_ms AND p.t_ms <= s.to_ms
    GROUP BY s.maneuver_id, second_no
),

headings AS (
    SELECT
        s.maneuver_id,
        CAST(p.t_ms // 1000 AS INTEGER) AS second_no,
        AVG(p.value) AS heading_deg
    FROM heading_points AS p
    INNER JOIN spans AS s
        ON p.session_id = s.session_id AND p.revision = s.revision AND p.t_ms >= s.from_ms AND p.t_ms <= s.to_ms
    GROUP BY s.maneuver_id, second_no
),

vertical_speeds AS (
    SELECT
        s.maneuver_id,
        CAST(p.t_ms // 1000 AS INTEGER) AS second_no,
        AVG(p.value) AS vertical_speed_fpm
    FROM vertical_speed_points AS p
    INNER JOIN spans AS s
        ON p.session_id = s.session_id AND p.revision = s.revision AND p.t_ms >= s.from_ms AND p.t_ms <= s.to_ms
    GROUP BY s.maneuver_id, second_no
)

SELECT
    r.maneuver_id,
    r.second_no,
    r.altitude_ft,
    h.heading_deg,
    v.vertical_speed_fpm,
    r.bank_deg
FROM recorded AS r
LEFT JOIN headings AS h ON r.maneuver_id = h.maneuver_id AND r.second_no = h.second_no
LEFT JOIN vertical_speeds AS v ON r.maneuver_id = v.maneuver_id AND r.second_no = v.second_no
ORDER BY r.maneuver_id, r.second_no;
