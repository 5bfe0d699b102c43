-- One row is a student of a release, under a random code.
-- Inputs: shared_rows
-- Grain: student_code
-- Units: session_count, week_count are counts
-- Source: shared_rows; null in cohort or standard_id: masked, because too few students share the combination
CREATE OR REPLACE VIEW released_students AS
SELECT
    student_code,
    cohort,
    standard_id,
    STRING_AGG(DISTINCT device_class, ', ' ORDER BY device_class) AS device_classes,
    COUNT(*) AS session_count,
    COUNT(DISTINCT week_no) AS week_count
FROM shared_rows
GROUP BY student_code, cohort, standard_id;
