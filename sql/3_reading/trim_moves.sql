-- One row is a trim input: the wheel or switch moved in one direction until it rested or turned round. A TABLE: read once and kept.
-- Inputs: second_means, limits
-- Grain: maneuver_id, move_no
-- Units: start_s and end_s in seconds from the session's start; change in fractions of travel, positive nose up
-- Kept: one file beside each samples file
-- Source: ours, on the means of each second: it moves in a second that changes by more than trim_moving_per_s; a rest of
-- trim_pause_s or a turn ends the input; one that changed less than trim_dead_band in all is no row
CREATE OR REPLACE TABLE trim_moves AS
WITH changes AS (
    SELECT
        now.maneuver_id,
        now.second_no,
        now.pitch_trim - before.pitch_trim AS change,
        SIGN(now.pitch_trim - before.pitch_trim) AS direction
    FROM second_means AS now
    CROSS JOIN limits AS l
    INNER JOIN second_means AS before
        ON now.maneuver_id = before.maneuver_id AND before.second_no = now.second_no - 1
    WHERE ABS(now.pitch_trim - before.pitch_trim) > l.trim_moving_per_s
),

begun AS (
    SELECT
        c.maneuver_id,
        c.second_no,
        c.change,
        COALESCE(
            c.second_no - LAG(c.second_no) OVER by_time > l.trim_pause_s
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
        CAST(MIN(second_no) - 1 AS DOUBLE) AS start_s,
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
