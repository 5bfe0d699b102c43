-- One row is a student's week in one aspect, class of device and basis, under the student's code.
-- Inputs: shared_weeks, shared_rows
-- Grain: student_code, device_class, aspect, basis, week_id
-- Units: tolerance_ratio: 1 is the edge of the standard; week_no in weeks from the student's start; counts
-- Source: shared_weeks, rounded. week_id is week_no in two digits; "unknown" where the student's start is not known or later; or "late-" and a number, in
-- order, for weeks later than enough students flew (shared_rows): these have no week_no. Ratios are told where the standard is masked too, which
-- they do not tell by themselves; a release that would set them beside the same student's maneuvers is refused.
CREATE OR REPLACE VIEW released_student_weeks AS
WITH coded AS (
    SELECT DISTINCT
        student_id,
        student_code,
        cohort,
        standard_id,
        is_standard_masked,
        device_class,
        last_week_no
    FROM shared_rows
),

placed AS (
    SELECT
        r.student_code,
        w.device_class,
        w.aspect,
        w.basis,
        w.week_no,
        COALESCE(w.week_no > r.last_week_no, FALSE) AS is_late,
        r.cohort,
        r.is_standard_masked,
        w.standard_id,
        w.tolerance_ratio,
        w.is_met,
        w.session_count,
        w.maneuver_count
    FROM shared_weeks AS w
    INNER JOIN coded AS r ON w.student_id = r.student_id AND w.device_class = r.device_class
)

SELECT
    student_code,
    device_class,
    aspect,
    basis,
    CASE
        WHEN week_no IS NULL THEN 'unknown'
        WHEN is_late THEN FORMAT('late-{:02d}', DENSE_RANK() OVER (PARTITION BY student_code, device_class, is_late ORDER BY week_no))
        ELSE FORMAT('{:02d}', week_no)
    END AS week_id,
    CASE WHEN NOT is_late THEN week_no END AS week_no,
    cohort,
    CASE WHEN NOT is_standard_masked THEN standard_id END AS standard_id,
    ROUND(tolerance_ratio, 3) AS tolerance_ratio,
    is_met,
    session_count,
    maneuver_count
FROM placed;
