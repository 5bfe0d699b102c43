-- One row is a trim input and what was held, and how the aeroplane moved, just before it. A TABLE: read once and kept.
-- Inputs: trim_moves, second_means, limits
-- Grain: maneuver_id, move_no
-- Units: start_s in seconds from the session's start; change and control_before in fractions of travel, force_before_n in newtons, rate_before_fpm in ft/min
-- Kept: one file beside each samples file
-- Source: means over the trim_before_s before the input began; control_moved_s is when the pitch control first left its place at the maneuver's start by
-- control_dead_band, in seconds from the session's start: null if it had not by the input's beginning
CREATE OR REPLACE TABLE trim_contexts AS
WITH firsts AS (
    SELECT
        maneuver_id,
        ARG_MIN(pitch_control, second_no) AS first_control
    FROM second_means
    WHERE pitch_control IS NOT NULL
    GROUP BY maneuver_id
),

movements AS (
    SELECT
        m.maneuver_id,
        MIN(m.second_no) AS moved_no
    FROM second_means AS m
    CROSS JOIN limits AS l
    INNER JOIN firsts AS f ON m.maneuver_id = f.maneuver_id
    WHERE ABS(m.pitch_control - f.first_control) >= l.control_dead_band
    GROUP BY m.maneuver_id
)

SELECT
    t.maneuver_id,
    t.move_no,
    t.start_s,
    t.change,
    AVG(m.pitch_control) AS control_before,
    AVG(m.pitch_force) AS force_before_n,
    AVG(m.vertical_speed_fpm) AS rate_before_fpm,
    ANY_VALUE(CASE WHEN v.moved_no <= t.start_s + 1 THEN CAST(v.moved_no AS DOUBLE) END) AS control_moved_s
FROM trim_moves AS t
CROSS JOIN limits AS l
LEFT JOIN second_means AS m
    ON t.maneuver_id = m.maneuver_id AND m.second_no <= t.start_s AND m.second_no > t.start_s - l.trim_before_s
LEFT JOIN movements AS v ON t.maneuver_id = v.maneuver_id
GROUP BY t.maneuver_id, t.move_no, t.start_s, t.change
ORDER BY t.maneuver_id, t.move_no;
