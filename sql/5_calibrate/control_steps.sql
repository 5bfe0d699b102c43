-- One row is a day on which a control of a device began to rest elsewhere: a stick replaced, a yoke knocked.
-- Inputs: control_moves, limits
-- Grain: device_id, input, session_date
-- Units: step and step_se in fractions of travel; student_count in students
-- Source: ours: a move across a day (control_moves) of at least neutral_step_students, by neutral_step or more and by three times its standard error; of days that
-- follow each other within neutral_step_days the one across which the students moved most on the average is told. A neutral looks neutral_window_days
-- back and takes time to follow.
CREATE OR REPLACE VIEW control_steps AS
WITH steps AS (
    SELECT
        c.*,
        COALESCE(
            c.session_date - LAG(c.session_date) OVER (PARTITION BY c.device_id, c.input ORDER BY c.session_date) > l.neutral_step_days,
            TRUE
        ) AS is_new
    FROM control_moves AS c
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
