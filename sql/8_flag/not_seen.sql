-- One row is a student who has not left and has had no session for flag_not_seen_days up to the date asked for, or none at all since starting.
-- Inputs: students, sessions, as_of, limits
-- Grain: student_id
-- Units: days_since counts days since the last session, or since the start where there was none
-- Source: the school's sessions; the states of such a student are as they were
CREATE OR REPLACE VIEW not_seen AS
WITH last_seen AS (
    SELECT
        s.student_id,
        MAX(s.session_date) AS last_session_date
    FROM sessions AS s
    CROSS JOIN as_of AS d
    WHERE s.session_date <= d.as_of_date
    GROUP BY s.student_id
)

SELECT
    p.student_id,
    p.cohort,
    p.start_date,
    s.last_session_date,
    DATE_DIFF('day', COALESCE(s.last_session_date, p.start_date), d.as_of_date) AS days_since
FROM students AS p
CROSS JOIN as_of AS d
CROSS JOIN limits AS k
LEFT JOIN last_seen AS s ON p.student_id = s.student_id
WHERE
    (p.left_on IS NULL OR p.left_on > d.as_of_date)
    AND DATE_DIFF('day', COALESCE(s.last_session_date, p.start_date), d.as_of_date) >= k.flag_not_seen_days
ORDER BY days_since DESC, p.student_id;
