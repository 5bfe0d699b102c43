-- One row is a control of a device on a day it was flown, and where it rests, as far as level flights up to that day tell.
-- Inputs: maneuvers, sessions, channel_sums, limits
-- Grain: device_id, session_date, input
-- Units: neutral, spread and neutral_se in fractions of travel; student_count in students, maneuver_count in maneuvers
-- Source: as device_neutrals, for the pitch and the roll control: the median of the students' medians of the mean position over scored level maneuvers of the last
-- neutral_window_days, at least neutral_minimum_students; unrounded. A free yoke's
-- pitch rests where trim lets it, so it has no row.
CREATE OR REPLACE VIEW control_neutrals AS
WITH level_controls AS (
    SELECT
        s.device_id,
        s.student_id,
        s.session_date,
        c.channel AS input,
        c.mean AS position
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    INNER JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel IN ('pitch_control', 'roll_control')
    WHERE
        m.is_scored AND s.device_id IS NOT NULL AND c.mean IS NOT NULL
        AND NOT (s.control = 'free' AND c.channel = 'pitch_control')
),

days AS (
    SELECT DISTINCT
        device_id,
        session_date
    FROM sessions
    WHERE device_id IS NOT NULL
),

student_medians AS (
    SELECT
        d.device_id,
        d.session_date,
        v.input,
        v.student_id,
        MEDIAN(v.position) AS position,
        COUNT(*) AS maneuver_count
    FROM days AS d
    CROSS JOIN limits AS l
    INNER JOIN level_controls AS v
        ON
            d.device_id = v.device_id
            AND v.session_date <= d.session_date
            AND v.session_date > d.session_date - CAST(l.neutral_window_days AS INTEGER)
    GROUP BY d.device_id, d.session_date, v.input, v.student_id
)

SELECT
    t.device_id,
    t.session_date,
    t.input,
    CASE WHEN COUNT(*) >= l.neutral_minimum_students THEN ROUND(MEDIAN(t.position), 6) END AS neutral,
    ROUND(1.4826 * MAD(t.position), 9) AS spread,
    ROUND(1.2533 * 1.4826 * MAD(t.position) / SQRT(COUNT(*)), 9) AS neutral_se,
    COUNT(*) AS student_count,
    CAST(SUM(t.maneuver_count) AS BIGINT) AS maneuver_count,
    CASE
        WHEN COUNT(*) < l.neutral_minimum_students
            THEN 'flown level by fewer than ' || CAST(l.neutral_minimum_students AS INTEGER) || ' students'
    END AS neutral_reason
FROM student_medians AS t
CROSS JOIN limits AS l
GROUP BY t.device_id, t.session_date, t.input, l.neutral_minimum_students;
