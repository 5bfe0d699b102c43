-- One row is a student of the roster: whether the student may be in the export that is asked for, and if not, why.
-- Inputs: students, student_standards, export_choice
-- Grain: student_id
-- Units: start_date is a date
-- Source: ours. Nobody who said no to research is in any export; rows of single students need a yes, where the roster has the column at all.
-- left_out_reason is null for those who may be in it.
CREATE OR REPLACE VIEW shareable_students AS
WITH roster AS (
    SELECT
        p.student_id,
        COALESCE(p.cohort, '(none)') AS cohort,
        s.standard_id,
        p.start_date,
        p.research_consent,
        BOOL_OR(p.research_consent IS NOT NULL) OVER () AS has_consent_column
    FROM students AS p
    INNER JOIN student_standards AS s ON p.student_id = s.student_id
)

SELECT
    r.student_id,
    r.cohort,
    r.standard_id,
    r.start_date,
    CASE
        WHEN r.cohort <> c.asked_cohort THEN 'not in the cohort asked for'
        WHEN r.standard_id <> c.asked_standard_id THEN 'not held to the standard asked for'
        WHEN NOT r.research_consent THEN 'no consent to research'
        WHEN c.level <> 'cohort' AND r.has_consent_column AND r.research_consent IS NULL THEN 'no answer about research'
    END AS left_out_reason
FROM roster AS r
CROSS JOIN export_choice AS c;
