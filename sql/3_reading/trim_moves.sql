-- One row is a trim input: the wheel or switch moved in one direction until it rested or turned round. A TABLE: read once and kept.
-- Inputs: second_means, slow_channels, maneuver_windows, limits
-- Grain: maneuver_id, move_no
-- Units: start_s and end_s in seconds from the session's start; change in fractions of travel, positive nose up
-- Kept: one file beside each samples file
-- Source: ours, on the means of each second: it moves where it changes faster than trim_moving_per_s from one second with a value to the next,
-- gaps left out; a rest of trim_pause_s or a turn ends the input; one that changed less than trim_dead_band in all is no row
CREATE OR REPLACE TABLE trim_moves AS
WITH neighbours AS (
    SELECT
        m.maneuver_id,
        m.second_no,
        LAG(m.second_no) OVER by_time AS previous_no,
        m.pitch_trim - LAG(m.pitch_trim) OVER by_time AS change
    FROM second_means AS m
    WHERE m.pitch_trim IS NOT NULL
    WINDOW by_time AS (PARTITION BY m.maneuver_id ORDER BY m.second_no)
),

changes AS (
    SELECT
        n.maneuver_id,
        n.second_no,
        n.previous_no,
        n.change,
        SIGN(n.change) AS direction
    FROM neighbours AS n
    CROSS JOIN limits AS l
    INNER JOIN maneuver_windows AS w ON n.maneuver_id = w.maneuver_id
    LEFT JOIN slow_channels AS s ON w.session_id = s.session_id AND w.revision = s.revision AND s.channel = 'pitch_trim'
    WHERE
        ABS(n.change) > l.trim_moving_per_s * (n.second_no - n.previous_no)
        AND (n.second_no - n.previous_no - 1) * 1000 < COALESCE(s.gap_limit_ms, w.gap_limit_ms)
),

begun AS (
    SELECT
        c.maneuver_id,
        c.second_no,
        c.previous_no,
        c.change,
        COALESCE(
            c.previous_no - LAG(c.second_no) OVER by_time >= l.trim_pause_s
            OR c.direction <> LAG(c.direction) OVER by_time,
            TRUE
        ) AS is_begun
    FROM changes AS c
    CROSS JOIN limits AS l
    WINDOW by_time AS (PARTITION BY c.maneuver_id ORDER BY c.second_no)
),

numbered AS (
    SELECT
        maneuver_id,
        second_no,
        previous_no,
        change,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (
            PARTITION BY maneuver_id
            ORDER BY second_no
        ) AS input_no
    FROM begun
),

whole AS (
    SELECT
        maneuver_id,
        input_no,
        CAST(MIN(previous_no) AS DOUBLE) AS start_s,
        CAST(MAX(second_no) + 1 AS DOUBLE) AS end_s,
        SUM(change) AS change
    FROM numbered
    GROUP BY maneuver_id, input_no
)

SELECT
    w.maneuver_id,
    CAST(ROW_NUMBER() OVER (PARTITION BY w.maneuver_id ORDER BY w.input_no) AS INTEGER) AS move_no,
    w.start_s,
    w.end_s,
    w.change
FROM whole AS w
CROSS JOIN limits AS l
WHERE ABS(w.change) >= l.trim_dead_band
ORDER BY w.maneuver_id, move_no;
