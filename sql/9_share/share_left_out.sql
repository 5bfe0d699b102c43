-- One row is a reason for which students, sessions, level maneuvers or events are left out of an export, or "in" for those that are in it; of any size, not to be
-- released as it stands. A TABLE: read twice.
-- Inputs: shareable_students, students, sessions, session_figures, maneuvers, shared_events, cell_members, withheld_cells, shown_traits, missing_codes, export_choice
-- Grain: counted, figure_of, reason_code
-- Units: counts
-- Source: ours. What was not asked for is not counted. Sessions, maneuvers and events are those of students who are in it; a session is counted once for each
-- aspect, an event once for each figure. Reasons are told by the codes of missing_codes, the lowest code_no that fits.
CREATE OR REPLACE TABLE share_left_out AS
WITH chosen_sessions AS (
    SELECT
        s.session_id,
        s.student_id
    FROM sessions AS s
    CROSS JOIN export_choice AS c
    WHERE
        s.session_date >= COALESCE(c.first_date, s.session_date)
        AND s.session_date <= COALESCE(c.last_date, s.session_date)
),

fliers AS (
    SELECT DISTINCT student_id
    FROM chosen_sessions
),

members AS (
    SELECT
        m.student_id,
        BOOL_OR(w.cell_id IS NULL) AS is_shown
    FROM cell_members AS m
    LEFT JOIN withheld_cells AS w ON m.cell_id = w.cell_id
    GROUP BY m.student_id
),

traits AS (
    SELECT DISTINCT student_id
    FROM shown_traits
),

placed_students AS (
    SELECT
        p.student_id,
        r.left_on,
        CASE
            WHEN p.left_out_reason = 'no consent to research' THEN 'refused'
            WHEN p.left_out_reason IS NOT NULL THEN 'not_answered'
            WHEN f.student_id IS NULL THEN 'no_session'
            WHEN c.level = 'cohort' AND m.student_id IS NULL THEN 'no_figure'
            WHEN c.level = 'cohort' AND NOT m.is_shown THEN 'stands_out'
            WHEN c.level <> 'cohort' AND t.student_id IS NULL THEN 'stands_out'
            ELSE 'in'
        END AS reason_code
    FROM shareable_students AS p
    CROSS JOIN export_choice AS c
    INNER JOIN students AS r ON p.student_id = r.student_id
    LEFT JOIN fliers AS f ON p.student_id = f.student_id
    LEFT JOIN members AS m ON p.student_id = m.student_id
    LEFT JOIN traits AS t ON p.student_id = t.student_id
    WHERE COALESCE(p.left_out_reason, '') NOT IN ('not in the cohort asked for', 'not held to the standard asked for')
),

flown AS (
    SELECT
        s.session_id,
        s.student_id
    FROM chosen_sessions AS s
    INNER JOIN placed_students AS p ON s.student_id = p.student_id AND p.reason_code = 'in'
),

given AS (
    SELECT
        'sessions' AS counted,
        g.aspect AS figure_of,
        f.student_id,
        g.figure_reason AS reason
    FROM session_figures AS g
    INNER JOIN flown AS f ON g.session_id = f.session_id
    UNION ALL
    SELECT
        'maneuvers' AS counted,
        'any' AS figure_of,
        f.student_id,
        m.not_scored_reason AS reason
    FROM maneuvers AS m
    INNER JOIN flown AS f ON m.session_id = f.session_id
    WHERE m.kind = 'level'
    UNION ALL
    SELECT
        'events' AS counted,
        e.figure AS figure_of,
        f.student_id,
        CASE
            WHEN e.is_in_curves THEN NULL
            WHEN e.time_s IS NULL THEN COALESCE(e.settling_reason, 'not measured')
            ELSE 'not followed'
        END AS reason
    FROM shared_events AS e
    INNER JOIN maneuvers AS m ON e.maneuver_id = m.maneuver_id
    INNER JOIN flown AS f ON m.session_id = f.session_id
),

codes AS (
    SELECT
        g.reason,
        ARG_MIN(c.missing_code, c.code_no) AS missing_code
    FROM given AS g
    INNER JOIN missing_codes AS c ON g.reason LIKE c.reason_pattern
    GROUP BY g.reason
),

placed AS (
    SELECT
        g.counted,
        g.figure_of,
        g.student_id,
        CASE WHEN g.reason IS NULL THEN 'in' ELSE COALESCE(c.missing_code, 'other') END AS reason_code
    FROM given AS g
    LEFT JOIN codes AS c ON g.reason = c.reason
    UNION ALL
    SELECT
        'students' AS counted,
        'any' AS figure_of,
        student_id,
        reason_code
    FROM placed_students
    UNION ALL
    SELECT
        'students' AS counted,
        'any' AS figure_of,
        student_id,
        'has_left' AS reason_code
    FROM placed_students
    WHERE reason_code = 'in' AND left_on IS NOT NULL
)

SELECT
    p.counted,
    p.figure_of,
    p.reason_code,
    COUNT(*) AS counted_count,
    SUM(COUNT(*)) OVER (PARTITION BY p.counted, p.figure_of) AS total_count,
    COUNT(DISTINCT p.student_id) AS student_count
FROM placed AS p
CROSS JOIN export_choice AS c
WHERE p.counted = 'students' OR (p.counted = 'events' AND c.level <> 'student') OR (p.counted = 'sessions' AND c.level <> 'maneuver') OR p.counted = 'maneuvers'
GROUP BY p.counted, p.figure_of, p.reason_code;
