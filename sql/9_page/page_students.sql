-- One row is a student who has not left, with the three aspects side by side.
-- A TABLE: several pages read it.
-- Inputs: student_states, student_standards, standard_changes
-- Grain: student_id
-- Units: dates are session dates; sessions_flown counts sessions up to the date asked for
-- Source: student_states, unchanged; is_all_met: every aspect meets the standard
CREATE OR REPLACE TABLE page_students AS
WITH newest_changes AS (
    SELECT
        student_id,
        ARG_MAX(change_reason, changed_on) AS change_reason
    FROM standard_changes
    GROUP BY student_id
)

SELECT
    s.student_id,
    ANY_VALUE(COALESCE(s.cohort, '(none)')) AS cohort,
    ANY_VALUE(COALESCE(s.stage, '(none)')) AS stage,
    ANY_VALUE(c.standard_id) AS standard_id,
    ANY_VALUE(c.standard_reason) AS standard_reason,
    ANY_VALUE(h.change_reason) AS standard_change_reason,
    MAX(s.state) FILTER (WHERE s.aspect = 'altitude') AS altitude_state,
    MAX(s.state) FILTER (WHERE s.aspect = 'heading') AS heading_state,
    MAX(s.state) FILTER (WHERE s.aspect = 'trim') AS trim_state,
    COUNT(*) FILTER (WHERE s.is_flagged) AS flag_count,
    BOOL_AND(s.state = 'meets the standard') AS is_all_met,
    BOOL_OR(s.is_not_seen) AS is_not_seen,
    ANY_VALUE(s.last_session_date) AS last_session_date,
    ANY_VALUE(s.sessions_flown) AS sessions_flown
FROM student_states AS s
LEFT JOIN student_standards AS c ON s.student_id = c.student_id
LEFT JOIN newest_changes AS h ON s.student_id = h.student_id
GROUP BY s.student_id
ORDER BY s.student_id;
