-- One row is a student's week in one aspect and class of device, under the student's code.
-- Inputs: shared_weeks, shared_rows
-- Grain: student_code, device_class, aspect, week_id
-- Units: tolerance_ratio: 1 is the edge of the standard; week_no in weeks from the student's start; counts
-- Source: shared_weeks. week_id is week_no in two digits, or "unknown" where the student's start is not known or later.
CREATE OR REPLACE VIEW released_student_weeks AS
WITH coded AS (
    SELECT DISTINCT
        student_id,
        student_code,
        cohort,
        standard_id,
        device_class
    FROM shared_rows
)

SELECT
    r.student_code,
    w.device_class,
    w.aspect,
    COALESCE(FORMAT('{:02d}', w.week_no), 'unknown') AS week_id,
    w.week_no,
    r.cohort,
    CASE WHEN r.standard_id IS NULL THEN NULL ELSE w.standard_id END AS standard_id,
    w.tolerance_ratio,
    w.is_met,
    w.session_count,
    w.maneuver_count
FROM shared_weeks AS w
INNER JOIN coded AS r ON w.student_id = r.student_id AND w.device_class = r.device_class;
