-- One row is a day on which a control of a device was flown level, and how far it moved across that day with the same students on it.
-- Inputs: maneuvers, sessions, channel_sums, limits
-- Grain: device_id, input, session_date
-- Units: step, mean_step and step_se in fractions of travel, null where no student flew on both sides; student_count in students that did
-- Source: ours: each student's own position (medians of the mean positions of a day's scored level maneuvers, averaged over days) in the neutral_step_days from the day
-- on less that in those before it: a student is compared with the same student, so that who flew is no step. step is the median over students,
-- mean_step their mean. A free yoke's pitch rests where trim lets it and is left out.
CREATE OR REPLACE VIEW control_moves AS
WITH level_controls AS (
    SELECT
        s.device_id,
        s.student_id,
        s.session_date,
        c.channel AS input,
        MEDIAN(c.mean) AS position
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    INNER JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel IN ('pitch_control', 'roll_control')
    WHERE
        m.is_scored AND s.device_id IS NOT NULL AND c.mean IS NOT NULL
        AND NOT (s.control = 'free' AND c.channel = 'pitch_control')
    GROUP BY s.device_id, s.student_id, s.session_date, c.channel
),

days AS (
    SELECT DISTINCT
        device_id,
        input,
        session_date
    FROM level_controls
),

moves AS (
    SELECT
        d.device_id,
        d.input,
        d.session_date,
        v.student_id,
        AVG(v.position ORDER BY v.session_date) FILTER (WHERE v.session_date >= d.session_date)
        - AVG(v.position ORDER BY v.session_date) FILTER (WHERE v.session_date < d.session_date) AS moved
    FROM days AS d
    CROSS JOIN limits AS l
    INNER JOIN level_controls AS v
        ON
            d.device_id = v.device_id AND d.input = v.input
            AND v.session_date >= d.session_date - CAST(l.neutral_step_days AS INTEGER)
            AND v.session_date < d.session_date + CAST(l.neutral_step_days AS INTEGER)
    GROUP BY d.device_id, d.input, d.session_date, v.student_id
)

SELECT
    device_id,
    input,
    session_date,
    MEDIAN(moved) AS step,
    AVG(moved ORDER BY student_id) AS mean_step,
    1.2533 * 1.4826 * MAD(moved) / SQRT(COUNT(moved)) AS step_se,
    COUNT(moved) AS student_count
FROM moves
GROUP BY device_id, input, session_date;
