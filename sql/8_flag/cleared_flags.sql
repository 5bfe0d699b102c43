-- One row is a flag that cleared within flag_cleared_days of the date asked for, of a student who has not left.
-- Inputs: current_levels, students, as_of, limits
-- Grain: student_id, aspect, stratum
-- Units: level_ratio: 1 is the edge of the standard; dates are session dates
-- Source: flag_history
CREATE OR REPLACE VIEW cleared_flags AS
SELECT
    c.student_id,
    c.aspect,
    c.stratum,
    c.cohort,
    c.cleared_date,
    c.level_ratio,
    c.level_low,
    c.level_high,
    c.state
FROM current_levels AS c
CROSS JOIN as_of AS d
CROSS JOIN limits AS k
INNER JOIN students AS p ON c.student_id = p.student_id
WHERE
    NOT c.is_flagged
    AND DATE_DIFF('day', c.cleared_date, d.as_of_date) < k.flag_cleared_days
    AND (p.left_on IS NULL OR p.left_on > d.as_of_date)
ORDER BY c.cleared_date DESC, c.student_id, c.aspect, c.stratum;
