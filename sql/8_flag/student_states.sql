-- One row is a student who has not left and an aspect: the state at the date asked for, in words, and what stands behind it.
-- A TABLE: pages and lists read it.
-- Inputs: students, sessions, current_levels, session_figures, exclusions, as_of, limits
-- Grain: student_id, aspect
-- Units: ratios: 1 is the edge of the standard; sessions_counted counts sessions of the stratum flown last; dates are session dates
-- Source: student_levels. A student not seen for flag_not_seen_days keeps the last state, and is_not_seen says so. device_caution: all of
-- the student's sessions were on one device that fewer than flag_device_students others flew, or the figures are outside only
-- until the device's effect is taken off.
CREATE OR REPLACE TABLE student_states AS
WITH present AS (
    SELECT
        p.student_id,
        p.cohort,
        p.stage,
        a.aspect,
        d.as_of_date
    FROM students AS p
    CROSS JOIN as_of AS d
    CROSS JOIN (VALUES ('altitude'), ('heading'), ('trim')) AS a (aspect)
    WHERE
        d.as_of_date IS NOT NULL
        AND (p.left_on IS NULL OR p.left_on > d.as_of_date)
        AND (p.start_date IS NULL OR p.start_date <= d.as_of_date)
),

last_seen AS (
    SELECT
        s.student_id,
        MAX(s.session_date) AS last_session_date,
        COUNT(*) AS sessions_flown
    FROM sessions AS s
    CROSS JOIN as_of AS d
    WHERE s.session_date <= d.as_of_date
    GROUP BY s.student_id
),

devices_flown AS (
    SELECT
        student_id,
        aspect,
        stratum,
        MIN(device_id) AS device_id
    FROM session_figures
    WHERE is_counted
    GROUP BY student_id, aspect, stratum
    HAVING COUNT(DISTINCT device_id) = 1
),

others AS (
    SELECT
        v.student_id,
        v.aspect,
        v.stratum,
        v.device_id,
        COUNT(DISTINCT f.student_id) FILTER (WHERE f.student_id <> v.student_id) AS other_students
    FROM devices_flown AS v
    INNER JOIN session_figures AS f ON v.aspect = f.aspect AND v.device_id = f.device_id AND f.is_counted
    GROUP BY v.student_id, v.aspect, v.stratum, v.device_id
),

left_out_counts AS (
    SELECT
        student_id,
        aspect,
        reason,
        COUNT(*) AS sessions
    FROM exclusions
    WHERE maneuver_id IS NULL
    GROUP BY student_id, aspect, reason
),

left_out AS (
    SELECT
        student_id,
        aspect,
        SUM(sessions) AS sessions,
        STRING_AGG(reason || ', ' || sessions || CASE sessions WHEN 1 THEN ' session' ELSE ' sessions' END, '; ' ORDER BY sessions DESC, reason) AS reasons
    FROM left_out_counts
    GROUP BY student_id, aspect
)

SELECT
    p.student_id,
    p.aspect,
    p.cohort,
    p.stage,
    c.stratum,
    COALESCE(c.state, 'insufficient data') AS state,
    CASE
        WHEN c.state IS NULL OR c.state = 'insufficient data'
            THEN
                CASE COALESCE(c.session_no, 0) WHEN 0 THEN 'no session counts' WHEN 1 THEN '1 session counts' ELSE c.session_no || ' sessions count' END
                || FORMAT(', {:d} are needed', CAST(k.flag_minimum_sessions AS INTEGER))
                || COALESCE('; left out: ' || x.reasons, '')
        WHEN c.state = 'about at the standard, cannot say yet' AND c.excluded_share > k.flag_excluded_share
            THEN
                FORMAT('{:d} of {:d} sessions were left out: ', c.excluded_sessions, c.flown_sessions) || COALESCE(x.reasons, '')
        ELSE
            FORMAT('{:.2f} times the standard (80 % interval {:.2f} to {:.2f}) over {:d} sessions', c.level_ratio, c.level_low, c.level_high, c.session_no)
    END AS state_reason,
    COALESCE(c.trend, 'cannot say') AS trend,
    COALESCE(c.session_no, 0) AS sessions_counted,
    COALESCE(s.sessions_flown, 0) AS sessions_flown,
    COALESCE(CAST(x.sessions AS BIGINT), 0) AS sessions_excluded,
    c.level_ratio,
    c.level_low,
    c.level_high,
    c.p_not_met,
    c.confidence,
    COALESCE(c.is_flagged, FALSE) AS is_flagged,
    c.since_date,
    s.last_session_date,
    DATE_DIFF('day', s.last_session_date, p.as_of_date) AS days_since,
    COALESCE(DATE_DIFF('day', s.last_session_date, p.as_of_date) >= k.flag_not_seen_days, FALSE) AS is_not_seen,
    CASE
        WHEN o.other_students < k.flag_device_students
            THEN
                FORMAT(
                    'all sessions were on {}, flown by {}: person and device cannot be told apart',
                    o.device_id,
                    CASE o.other_students WHEN 0 THEN 'nobody else' WHEN 1 THEN 'only 1 other student' ELSE 'only ' || o.other_students || ' other students' END
                )
        WHEN c.is_device_doubt AND NOT c.is_flagged THEN
            FORMAT('outside only until the devices'' effects are taken off ({:.2f} becomes {:.2f}): no flag', c.level_ratio, c.level_ratio_adjusted)
    END AS device_caution
FROM present AS p
CROSS JOIN limits AS k
LEFT JOIN current_levels AS c ON p.student_id = c.student_id AND p.aspect = c.aspect AND c.is_current
LEFT JOIN last_seen AS s ON p.student_id = s.student_id
LEFT JOIN others AS o ON c.student_id = o.student_id AND c.aspect = o.aspect AND c.stratum = o.stratum
LEFT JOIN left_out AS x ON p.student_id = x.student_id AND p.aspect = x.aspect
ORDER BY p.student_id, p.aspect;
