-- One row is a device on a day it was flown, and where its pitch control rests, as far as level flights up to that day tell.
-- Inputs: maneuvers, sessions, channel_sums, limits
-- Grain: device_id, session_date
-- Units: pitch_neutral, spread and neutral_se in fractions of travel; student_count in students
-- Source: ours: the median of the students' medians of the mean pitch control over scored level maneuvers of the last neutral_window_days.
-- From fewer than neutral_minimum_students it is null with neutral_reason: a device cannot be told from the one who flies it.
-- spread is the students' median absolute deviation, scaled to a standard deviation (so that those who hold by muscle do not widen it);
-- neutral_se is the standard error of a median of normal values with that spread.
CREATE OR REPLACE VIEW device_neutrals AS
WITH level_controls AS (
    SELECT
        s.device_id,
        s.student_id,
        s.session_date,
        c.mean AS pitch_control
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    INNER JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'pitch_control'
    WHERE m.is_scored AND s.device_id IS NOT NULL AND c.mean IS NOT NULL
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
        v.student_id,
        MEDIAN(v.pitch_control) AS pitch_control
    FROM days AS d
    CROSS JOIN limits AS l
    INNER JOIN level_controls AS v
        ON
            d.device_id = v.device_id
            AND v.session_date <= d.session_date
            AND v.session_date > d.session_date - CAST(l.neutral_window_days AS INTEGER)
    GROUP BY d.device_id, d.session_date, v.student_id
),

device_medians AS (
    SELECT
        device_id,
        session_date,
        MEDIAN(pitch_control) AS middle,
        1.4826 * MAD(pitch_control) AS spread,
        COUNT(*) AS student_count
    FROM student_medians
    GROUP BY device_id, session_date
)

SELECT
    d.device_id,
    d.session_date,
    CASE
        WHEN m.student_count >= l.neutral_minimum_students
            THEN ROUND(ROUND(m.middle / l.neutral_resolution) * l.neutral_resolution, 6) + 0.0
    END AS pitch_neutral,
    ROUND(m.spread, 9) AS spread,
    ROUND(1.2533 * m.spread / SQRT(m.student_count), 9) AS neutral_se,
    COALESCE(m.student_count, 0) AS student_count,
    CASE
        WHEN m.student_count IS NULL THEN 'no level maneuver with a pitch control'
        WHEN m.student_count < l.neutral_minimum_students
            THEN 'flown level by fewer than ' || CAST(l.neutral_minimum_students AS INTEGER) || ' students'
    END AS neutral_reason
FROM days AS d
CROSS JOIN limits AS l
LEFT JOIN device_medians AS m ON d.device_id = m.device_id AND d.session_date = m.session_date;
