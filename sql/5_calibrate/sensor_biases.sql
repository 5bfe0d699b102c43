-- One row is a sensor of a device on a day it was flown, and how far it reads off on the average, as far as level flights up to that day tell.
-- Inputs: maneuvers, sessions, channel_sums, limits
-- Grain: device_id, session_date, sensor
-- Units: bias and spread in the unit of the row (ft/min, deg); student_count in students
-- Source: two readings of one motion must agree: logged vertical speed and the slope of the altitude; bank and the bank that the slope of the heading calls for at
-- the airspeed (turn rate = g tan(bank) / V). Median of students' medians over scored level maneuvers of the last neutral_window_days.
CREATE OR REPLACE VIEW sensor_biases AS
WITH differences AS (
    SELECT
        m.maneuver_id,
        s.device_id,
        s.student_id,
        s.session_date,
        CASE WHEN LIST_CONTAINS(s.channels, 'vertical_speed_fpm') THEN v.mean - a.drift_per_min END AS vertical_speed_off,
        b.mean - DEGREES(ATAN(RADIANS(h.drift_per_min / 60) * k.median * 1.687810 / 32.174)) AS bank_off
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    LEFT JOIN channel_sums AS a ON m.maneuver_id = a.maneuver_id AND a.channel = 'altitude'
    LEFT JOIN channel_sums AS v ON m.maneuver_id = v.maneuver_id AND v.channel = 'vertical_speed'
    LEFT JOIN channel_sums AS h ON m.maneuver_id = h.maneuver_id AND h.channel = 'heading'
    LEFT JOIN channel_sums AS b ON m.maneuver_id = b.maneuver_id AND b.channel = 'bank'
    LEFT JOIN channel_sums AS k ON m.maneuver_id = k.maneuver_id AND k.channel = 'airspeed'
    WHERE m.is_scored AND s.device_id IS NOT NULL
),

sensors AS (
    SELECT
        device_id,
        student_id,
        session_date,
        'vertical speed' AS sensor,
        'ft/min' AS unit,
        vertical_speed_off AS off
    FROM differences
    UNION ALL
    SELECT
        device_id,
        student_id,
        session_date,
        'bank' AS sensor,
        'deg' AS unit,
        bank_off AS off
    FROM differences
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
        v.sensor,
        v.unit,
        v.student_id,
        MEDIAN(v.off) AS off
    FROM days AS d
    CROSS JOIN limits AS l
    INNER JOIN sensors AS v
        ON
            d.device_id = v.device_id
            AND v.session_date <= d.session_date
            AND v.session_date > d.session_date - CAST(l.neutral_window_days AS INTEGER)
    WHERE v.off IS NOT NULL
    GROUP BY d.device_id, d.session_date, v.sensor, v.unit, v.student_id
)

SELECT
    t.device_id,
    t.session_date,
    t.sensor,
    t.unit,
    CASE WHEN COUNT(*) >= l.neutral_minimum_students THEN ROUND(MEDIAN(t.off), 6) END AS bias,
    ROUND(1.4826 * MAD(t.off), 6) AS spread,
    COUNT(*) AS student_count,
    CASE
        WHEN COUNT(*) < l.neutral_minimum_students
            THEN 'flown level by fewer than ' || CAST(l.neutral_minimum_students AS INTEGER) || ' students'
    END AS bias_reason
FROM student_medians AS t
CROSS JOIN limits AS l
GROUP BY t.device_id, t.session_date, t.sensor, t.unit, l.neutral_minimum_students;
