-- One row is a cohort and an aspect: how many of its students are in which state at the date asked for.
-- Inputs: student_states
-- Grain: cohort, aspect
-- Units: counts in students who have not left
-- Source: student_states. Every student is in exactly one state, so that the counts of states (flagged to undecided) add up to student_count
CREATE OR REPLACE VIEW cohort_states AS
SELECT
    COALESCE(cohort, '(none)') AS cohort,
    aspect,
    COUNT(*) AS student_count,
    COUNT(*) FILTER (WHERE is_flagged) AS flagged_students,
    COUNT(*) FILTER (WHERE state = 'meets the standard') AS meeting_students,
    COUNT(*) FILTER (WHERE state = 'improving') AS improving_students,
    COUNT(*) FILTER (WHERE state = 'slipping') AS slipping_students,
    COUNT(*) FILTER (WHERE state = 'plateau') AS plateau_students,
    COUNT(*) FILTER (WHERE state = 'about at the standard, cannot say yet') AS undecided_students,
    COUNT(*) FILTER (WHERE state = 'insufficient data') AS insufficient_students,
    COUNT(*) FILTER (WHERE is_not_seen) AS not_seen_students
FROM student_states
GROUP BY COALESCE(cohort, '(none)'), aspect
ORDER BY cohort, aspect;
