-- One row is a student and an aspect with too few sessions that count to say anything, and why they are too few.
-- Inputs: student_states
-- Grain: student_id, aspect
-- Units: counts in sessions
-- Source: student_states; no data is not a pass
CREATE OR REPLACE VIEW insufficient_data AS
SELECT
    student_id,
    aspect,
    cohort,
    sessions_counted,
    sessions_flown,
    sessions_excluded,
    state_reason AS reason,
    last_session_date,
    days_since
FROM student_states
WHERE state = 'insufficient data'
ORDER BY student_id, aspect;
