-- One row is a session, in one aspect, that counts and lies in the time asked for, of a student who may be in the export.
-- Inputs: session_figures, shareable_students, export_choice
-- Grain: session_id, aspect
-- Units: ln_ratio is the natural logarithm of the session's tolerance ratio (0 is the edge of the standard); week_no in weeks
-- Source: session_figures; week_no is 1 in the seven days from the student's start, null where the start is not known or later. Trim is held
-- to no standard: standard_id is then "none".
-- basis is the session's: assigned where it has an assigned level maneuver; the two are never pooled. Sessions that do not count
-- (rougher air, too little flown) are in no cell.
CREATE OR REPLACE VIEW shared_sessions AS
SELECT
    f.session_id,
    f.aspect,
    f.student_id,
    p.cohort,
    f.device_class,
    COALESCE(f.standard_id, 'none') AS standard_id,
    f.basis,
    CASE
        WHEN f.session_date >= p.start_date THEN CAST(DATE_DIFF('day', p.start_date, f.session_date) // 7 + 1 AS INTEGER)
    END AS week_no,
    f.ln_ratio,
    f.maneuver_count
FROM session_figures AS f
INNER JOIN shareable_students AS p ON f.student_id = p.student_id AND p.left_out_reason IS NULL
CROSS JOIN export_choice AS c
WHERE
    f.is_counted
    AND f.session_date >= COALESCE(c.first_date, f.session_date)
    AND f.session_date <= COALESCE(c.last_date, f.session_date);
