-- One row is a flag that stands at the date asked for: a student and an aspect in which more straight-and-level practice may help, and why.
-- A TABLE: pages and lists read it many times.
-- Inputs: current_levels, student_states, students, session_trends, evidence_maneuvers, exclusions, fault_signs, settling_shares, exercises, reviews, as_of, limits
-- Grain: student_id, aspect
-- Units: ratios: 1 is the edge of the standard; confidence is a probability; dates are session dates
-- Source: flag_history says which flags stand. evidence: the level maneuvers of the latest sessions that count. excluded: what was left out since the
-- first of those, and why. A flag about both device classes is told for the one flown last. An acknowledgement made since the
-- flag was raised is shown while it holds; it hides nothing. Students who left by the date asked for are left out.
CREATE OR REPLACE TABLE flags AS
WITH standing AS (
    SELECT
        c.student_id,
        c.aspect,
        c.stratum,
        c.session_id,
        c.cohort,
        c.device_class,
        c.standard_id,
        c.tolerance,
        c.unit,
        c.session_date,
        c.days_since,
        c.session_no,
        c.level_ratio,
        c.level_low,
        c.level_high,
        c.confidence,
        c.p_not_met,
        c.p_not_met_adjusted,
        c.trend,
        c.since_date,
        c.recent_outside,
        c.recent_sessions
    FROM current_levels AS c
    CROSS JOIN as_of AS d
    INNER JOIN students AS p ON c.student_id = p.student_id
    WHERE c.is_flagged AND (p.left_on IS NULL OR p.left_on > d.as_of_date)
    QUALIFY ROW_NUMBER() OVER (PARTITION BY c.student_id, c.aspect ORDER BY c.session_date DESC, c.stratum) = 1
),

rested_on AS (
    SELECT
        student_id,
        aspect,
        stratum,
        LIST(maneuver_id ORDER BY maneuver_id) AS evidence,
        MIN(session_date) AS first_date,
        COUNT(DISTINCT session_id) FILTER (WHERE basis = 'inferred') AS inferred_sessions
    FROM evidence_maneuvers
    GROUP BY student_id, aspect, stratum
),

left_out_counts AS (
    SELECT
        s.student_id,
        s.aspect,
        x.reason,
        COUNT(*) FILTER (WHERE x.maneuver_id IS NULL) AS sessions,
        COUNT(*) FILTER (WHERE x.maneuver_id IS NOT NULL) AS maneuvers
    FROM standing AS s
    INNER JOIN rested_on AS r ON s.student_id = r.student_id AND s.aspect = r.aspect AND s.stratum = r.stratum
    INNER JOIN exclusions AS x
        ON s.student_id = x.student_id AND s.aspect = x.aspect AND s.device_class = x.device_class AND x.session_date >= r.first_date
    GROUP BY s.student_id, s.aspect, x.reason
),

left_out AS (
    SELECT
        student_id,
        aspect,
        LIST(
            CASE
                WHEN sessions > 1 THEN sessions || ' sessions: '
                WHEN sessions = 1 THEN '1 session: '
                WHEN maneuvers > 1 THEN maneuvers || ' maneuvers: '
                ELSE '1 maneuver: '
            END || reason
            ORDER BY sessions DESC, reason
        ) AS excluded
    FROM left_out_counts
    GROUP BY student_id, aspect
),

acknowledgements AS (
    SELECT
        s.student_id,
        s.aspect,
        r.note,
        r.made_at,
        r.until
    FROM standing AS s
    CROSS JOIN as_of AS d
    INNER JOIN reviews AS r ON s.student_id = r.student_id AND (r.aspect = s.aspect OR r.aspect IS NULL)
    WHERE
        r.kind = 'acknowledge'
        AND CAST(r.made_at AS DATE) >= s.since_date
        AND (r.until IS NULL OR r.until >= d.as_of_date)
    QUALIFY ROW_NUMBER() OVER (PARTITION BY s.student_id, s.aspect ORDER BY r.made_at DESC, r.review_id DESC) = 1
),

worded AS (
    SELECT
        s.student_id,
        s.aspect,
        s.session_id,
        CASE s.unit
            WHEN 'ft' THEN FORMAT('±{:.0f} ft', s.tolerance)
            WHEN 'deg' THEN FORMAT('±{:.0f}°', s.tolerance)
            WHEN 'N' THEN FORMAT('{:.0f} N', s.tolerance)
            ELSE FORMAT('{:.2f} of travel', s.tolerance)
        END AS limit_words,
        CASE s.unit
            WHEN 'ft' THEN FORMAT('±{:.0f} ft', s.level_ratio * s.tolerance)
            WHEN 'deg' THEN FORMAT('±{:.0f}°', s.level_ratio * s.tolerance)
            WHEN 'N' THEN FORMAT('{:.0f} N', s.level_ratio * s.tolerance)
            ELSE FORMAT('{:.3f} of travel', s.level_ratio * s.tolerance)
        END AS level_words,
        CASE WHEN s.confidence > 0.99 THEN 'over 99 %' ELSE FORMAT('{:.0f} %', 100 * s.confidence) END AS chance_words
    FROM standing AS s
)

SELECT
    s.student_id,
    s.aspect,
    s.cohort,
    s.stratum,
    s.device_class,
    s.standard_id,
    s.tolerance,
    s.unit,
    s.since_date,
    s.session_id,
    s.session_date,
    s.days_since,
    s.session_no,
    s.level_ratio,
    s.level_low,
    s.level_high,
    CASE s.aspect
        WHEN 'altitude' THEN 'Altitude'
        WHEN 'heading' THEN 'Heading'
        ELSE 'Held control'
    END || CASE WHEN s.aspect = 'trim' THEN ' beyond ' ELSE ' outside ' END || w.limit_words
    || FORMAT(' in {:d} of the last {:d} {} sessions', s.recent_outside, s.recent_sessions, s.device_class)
    || CASE WHEN s.aspect = 'trim' THEN '; now about ' ELSE '; now held to about ' END || w.level_words
    || CASE WHEN s.aspect = 'trim' THEN ' either way (weighted over sessions, the newest most)' ELSE '' END
    || FORMAT(', {:.1f} times the {} (80 % interval {:.1f} to {:.1f}), ', s.level_ratio, CASE WHEN s.aspect = 'trim' THEN 'limit' ELSE 'tolerance' END, s.level_low, s.level_high)
    || w.chance_words || ' sure that it is outside; ' || f.fault_words
    || CASE
        WHEN s.trend = 'slipping' AND EXP(t.change_ln) >= 2
            THEN
                FORMAT(
                    '; about {:.1f} times as wide as at the start of the last {:d} sessions, seen at two sessions running',
                    EXP(t.change_ln), t.window_sessions
                )
        WHEN s.trend = 'slipping'
            THEN
                FORMAT(
                    '; {:.0f} % wider than at the start of the last {:d} sessions, seen at two sessions running',
                    100 * (EXP(t.change_ln) - 1), t.window_sessions
                )
        ELSE ''
    END
    || CASE
        WHEN s.aspect = 'trim' AND h.is_slow AND h.settled_share < 0.005
            THEN FORMAT('; trimmed in time after none of the last {:d} level-offs and power changes', h.event_count)
        WHEN s.aspect = 'trim' AND h.is_slow
            THEN
                FORMAT(
                    '; trimmed in time after only {:.0f} % of the last {:d} level-offs and power changes', 100 * h.settled_share, h.event_count
                )
        ELSE ''
    END
    || CASE
        WHEN s.confidence <= 0.5
            THEN FORMAT('; lately more likely inside: the flag clears after {:d} days of that', CAST(k.flag_clear_days AS INTEGER))
        ELSE ''
    END
    || '.' AS reason,
    s.confidence,
    w.chance_words AS confidence_words,
    r.evidence,
    COALESCE(x.excluded, CAST([] AS VARCHAR[])) AS excluded,
    r.inferred_sessions,
    f.fault,
    e.exercise,
    a.made_at IS NOT NULL AS acknowledged,
    a.note AS acknowledged_note,
    a.made_at AS acknowledged_at,
    a.until AS acknowledged_until,
    s.trend,
    COALESCE(q.is_not_seen, FALSE) AS is_not_seen
FROM standing AS s
CROSS JOIN limits AS k
INNER JOIN worded AS w ON s.student_id = w.student_id AND s.aspect = w.aspect
INNER JOIN rested_on AS r ON s.student_id = r.student_id AND s.aspect = r.aspect AND s.stratum = r.stratum
INNER JOIN fault_signs AS f ON s.student_id = f.student_id AND s.aspect = f.aspect AND s.stratum = f.stratum
INNER JOIN exercises AS e ON f.fault = e.fault
INNER JOIN session_trends AS t ON s.session_id = t.session_id AND s.aspect = t.aspect AND NOT t.is_adjusted
LEFT JOIN settling_shares AS h ON s.student_id = h.student_id AND s.device_class = h.device_class AND h.is_latest
LEFT JOIN student_states AS q ON s.student_id = q.student_id AND s.aspect = q.aspect
LEFT JOIN left_out AS x ON s.student_id = x.student_id AND s.aspect = x.aspect
LEFT JOIN acknowledgements AS a ON s.student_id = a.student_id AND s.aspect = a.aspect
ORDER BY s.confidence DESC, s.level_ratio DESC, s.student_id, s.aspect;
