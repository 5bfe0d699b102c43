-- One row is a session of a student in one aspect as a page shows it: its figure, where the student stood after it, or why it does not count.
-- A TABLE: several pages read it.
-- Inputs: session_figures, student_levels, sessions, students, as_of, limits
-- Grain: session_id, aspect
-- Units: ratios: 1 is the edge of the standard; weeks_in counts weeks since the student started (week 1 around 1.0),
-- weeks_ago whole weeks to the date asked for; ago counts sessions (0 is the latest). drawn_ratio is where charts put it: in trim not below
-- flag_trim_ratio_floor, as what little is held there counts as that much
-- Source: session_figures and student_levels, unchanged; sessions without level flight are left out
CREATE OR REPLACE TABLE page_student_sessions AS
SELECT
    f.student_id,
    f.aspect,
    f.session_id,
    f.session_date,
    f.started_at,
    f.cohort,
    COALESCE(p.stage, '(none)') AS stage,
    COALESCE(f.device_id, '(not named)') AS device_id,
    f.device_class,
    f.stratum,
    COALESCE(f.air, '(not stated)') AS air,
    s.lesson,
    f.standard_id,
    f.tolerance,
    f.basis,
    f.maneuver_count,
    f.tolerance_ratio,
    CASE
        WHEN f.aspect = 'trim' AND f.tolerance_ratio < k.flag_trim_ratio_floor THEN k.flag_trim_ratio_floor
        ELSE f.tolerance_ratio
    END AS drawn_ratio,
    f.is_consistent,
    f.is_counted,
    f.figure_reason,
    l.level_ratio,
    l.level_low,
    l.level_high,
    l.p_not_met,
    l.state,
    COALESCE(p.left_on <= d.as_of_date, FALSE) AS has_left,
    CAST(DATE_DIFF('day', f.session_date, d.as_of_date) // 7 AS INTEGER) AS weeks_ago,
    ROUND(
        DATE_DIFF('day', COALESCE(p.start_date, MIN(f.session_date) OVER (PARTITION BY f.student_id)), f.session_date) / 7.0::DOUBLE + 0.5, 2
    ) AS weeks_in,
    ROW_NUMBER() OVER (
        PARTITION BY f.student_id, f.aspect
        ORDER BY f.session_date DESC, f.started_at DESC, f.session_id DESC
    ) - 1 AS ago
FROM session_figures AS f
CROSS JOIN as_of AS d
CROSS JOIN limits AS k
INNER JOIN sessions AS s ON f.session_id = s.session_id
LEFT JOIN students AS p ON f.student_id = p.student_id
LEFT JOIN student_levels AS l ON f.session_id = l.session_id AND f.aspect = l.aspect
WHERE f.level_count > 0
ORDER BY f.student_id, f.aspect, f.session_date, f.started_at, f.session_id;
