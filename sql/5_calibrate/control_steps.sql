-- One row is a day on which a control of a device began to rest elsewhere: a stick replaced, a yoke knocked.
-- Inputs: maneuvers, sessions, channel_sums, limits
-- Grain: device_id, input, session_date
-- Units: step and step_se in fractions of travel; student_count in students
-- Source: ours: the median over students of how far each one's own position moved on the average, over scored level maneuvers, from the neutral_step_days before a day
-- to those from it on: a student is compared with the same student, so that who flew is no step. At least neutral_step_students,
-- a step of neutral_step or more and of three times its standard error; of neighbouring days the one across which the students moved most on the average
-- is told. A neutral looks neutral_window_days back and takes time to follow. A free yoke's pitch rests where trim lets it and is left out.
CREATE OR REPLACE VIEW control_steps AS
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
),

compared AS (
    SELECT
        device_id,
        input,
        session_date,
        MEDIAN(moved) AS step,
        AVG(moved ORDER BY student_id) AS mean_step,
        1.8581 * MAD(moved) / SQRT(COUNT(moved)) AS step_se,
        COUNT(moved) AS student_count
    FROM moves
    GROUP BY device_id, input, session_date
),

steps AS (
    SELECT
        c.*,
        COALESCE(
            c.session_date - LAG(c.session_date) OVER (PARTITION BY c.device_id, c.input ORDER BY c.session_date) > l.neutral_step_days,
            TRUE
        ) AS is_new
    FROM compared AS c
    CROSS JOIN limits AS l
    WHERE c.student_count >= l.neutral_step_students AND ABS(c.step) >= GREATEST(l.neutral_step, 3 * c.step_se)
),

clusters AS (
    SELECT
        *,
        SUM(CASE WHEN is_new THEN 1 ELSE 0 END) OVER (PARTITION BY device_id, input ORDER BY session_date) AS cluster
    FROM steps
)

SELECT
    device_id,
    input,
    session_date,
    ROUND(step, 6) AS step,
    ROUND(step_se, 9) AS step_se,
    student_count
FROM clusters
QUALIFY ROW_NUMBER() OVER (PARTITION BY device_id, input, cluster ORDER BY ABS(mean_step) DESC, session_date) = 1;
