-- One row is a flag that stands and was raised within flag_new_days of the date asked for.
-- Inputs: flags, as_of, limits
-- Grain: student_id, aspect
-- Units: dates are session dates
-- Source: flags
CREATE OR REPLACE VIEW new_flags AS
SELECT
    f.student_id,
    f.aspect,
    f.cohort,
    f.since_date,
    f.reason,
    f.confidence
FROM flags AS f
CROSS JOIN as_of AS d
CROSS JOIN limits AS k
WHERE DATE_DIFF('day', f.since_date, d.as_of_date) < k.flag_new_days
ORDER BY f.student_id, f.aspect;
