-- One row is a sample of a turn, level-off, climb or descent, or of the time just before or after it. A TABLE, in order of maneuver and time, so that
-- neighbours are read in stored order.
-- Inputs: stored_samples, maneuver_windows, limits
-- Grain: maneuver_id, t_ms
-- Units: t_ms in milliseconds from the session's start; each channel's unit is in its name
-- Source: the recorder. A level-off is read from capture_before_s before it, a turn until roll_out_s after it, or until the next turn begins.
-- cell_no cuts time so that few samples meet a maneuver that they are not in.
CREATE OR REPLACE TABLE event_samples AS
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

cells AS (
    SELECT
        maneuver_id,
        session_id,
        revision,
        from_ms,
        to_ms,
        UNNEST(RANGE(from_ms // 16384, to_ms // 16384 + 1)) AS cell_no
    FROM spans
)

SELECT
    c.maneuver_id,
    c.session_id,
    c.revision,
    c.from_ms,
    c.to_ms,
    p.t_ms,
    CAST(FLOOR(p.t_ms / 1000) AS INTEGER) AS second_no,
    p.altitude_ft,
    CAST(p.heading_deg AS DOUBLE) AS heading_deg,
    p.vertical_speed_fpm,
    p.bank_deg
FROM stored_samples AS p
INNER JOIN cells AS c
    ON
        p.session_id = c.session_id AND p.revision = c.revision AND p.t_ms // 16384 = c.cell_no
        AND p.t_ms >= c.from_ms AND p.t_ms <= c.to_ms
ORDER BY c.maneuver_id, p.t_ms;
