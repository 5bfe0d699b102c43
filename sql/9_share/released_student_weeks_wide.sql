-- One row is a student's week in one class of device and basis with the aspects side by side.
-- Inputs: released_student_weeks
-- Grain: student_code, device_class, basis, week_id
-- Units: tolerance ratios, 1 is the edge of the standard; week_no in weeks from the student's start
-- Source: released_student_weeks, turned; null where the student has no figure in the aspect that week
CREATE OR REPLACE VIEW released_student_weeks_wide AS
SELECT
    student_code,
    device_class,
    basis,
    week_id,
    week_no,
    cohort,
    MAX(tolerance_ratio) FILTER (WHERE aspect = 'altitude') AS altitude_ratio,
    BOOL_AND(is_met) FILTER (WHERE aspect = 'altitude') AS is_altitude_met,
    MAX(tolerance_ratio) FILTER (WHERE aspect = 'heading') AS heading_ratio,
    BOOL_AND(is_met) FILTER (WHERE aspect = 'heading') AS is_heading_met,
    MAX(tolerance_ratio) FILTER (WHERE aspect = 'trim') AS trim_ratio,
    BOOL_AND(is_met) FILTER (WHERE aspect = 'trim') AS is_trim_met
FROM released_student_weeks
GROUP BY student_code, device_class, basis, week_id, week_no, cohort;
