-- One row is a reason for which students, sessions, level maneuvers or events are left out of this export, as it may be released; "in" stands for those that are in it.
-- Inputs: share_left_out, left_out_meanings, limits
-- Grain: counted, figure_of, reason_code
-- Units: students_about is rounded to the nearest multiple of share_minimum_students; share_percent to whole percent
-- Source: share_left_out. A reason that holds for fewer than share_minimum_students students is no row of its own; "rest" stands for all of these, whether there
-- is one or none, so that a reason's absence tells nothing. Counts are rounded so that two exports cannot be subtracted. No share of
-- students is given: beside the number of those in it, it would tell how many are left.
CREATE OR REPLACE VIEW released_left_out AS
WITH large AS (
    SELECT
        s.counted,
        s.figure_of,
        s.reason_code,
        FALSE AS is_withheld,
        CAST(ROUND(s.student_count / k.share_minimum_students) * k.share_minimum_students AS BIGINT) AS students_about,
        CASE WHEN s.counted <> 'students' THEN CAST(ROUND(100 * s.counted_count / s.total_count) AS BIGINT) END AS share_percent
    FROM share_left_out AS s
    CROSS JOIN limits AS k
    WHERE s.student_count >= k.share_minimum_students
),

every AS (
    SELECT *
    FROM large
    UNION ALL
    SELECT DISTINCT
        counted,
        figure_of,
        'rest' AS reason_code,
        TRUE AS is_withheld,
        CAST(NULL AS BIGINT) AS students_about,
        CAST(NULL AS BIGINT) AS share_percent
    FROM large
)

SELECT
    e.counted,
    e.figure_of,
    e.reason_code,
    m.reason_meaning,
    e.is_withheld,
    e.students_about,
    e.share_percent
FROM every AS e
INNER JOIN left_out_meanings AS m ON e.reason_code = m.reason_code;
