-- One row is a session that counts and whether a flag stood after it: the fold of the flag rule over the student's own sessions, in order.
-- A TABLE: the fold walks session by session, once.
-- Inputs: session_figures, session_levels, session_trends, limits
-- Grain: session_id, aspect
-- Units: z in standard deviations beyond the standard; dates are session dates
-- Source: ours. Raised at a session when z is at least flag_raise_z as flown and with the devices' effects taken off, and at least
-- flag_outside_sessions of the last flag_recent_sessions figures lay outside; or when figures are slipping (session_trends) and z is
-- not below flag_clear_z. Not raised while figures are improving. Cleared when z was at most flag_clear_z at every session of the last
-- flag_clear_days and at the one before; not raised again within that time. Other students, nights without sessions and the order of
-- arrival change nothing.
CREATE OR REPLACE TABLE flag_history AS
WITH RECURSIVE looked_at AS (
    SELECT
        f.session_id,
        f.aspect,
        f.student_id,
        f.stratum,
        f.session_no,
        f.session_date,
        f.ln_ratio,
        r.z AS z_flown,
        a.z AS z_adjusted,
        LEAST(r.z, a.z) AS z,
        s.is_rising AND t.is_rising AS is_slipping,
        s.is_falling AS is_improving,
        k.flag_raise_z,
        k.flag_clear_z,
        k.flag_minimum_sessions,
        k.flag_outside_sessions,
        k.flag_recent_sessions,
        CAST(k.flag_clear_days AS INTEGER) AS clear_days
    FROM session_figures AS f
    CROSS JOIN limits AS k
    INNER JOIN session_levels AS r ON f.session_id = r.session_id AND f.aspect = r.aspect AND NOT r.is_adjusted
    INNER JOIN session_levels AS a ON f.session_id = a.session_id AND f.aspect = a.aspect AND a.is_adjusted
    INNER JOIN session_trends AS s ON f.session_id = s.session_id AND f.aspect = s.aspect AND NOT s.is_adjusted
    INNER JOIN session_trends AS t ON f.session_id = t.session_id AND f.aspect = t.aspect AND t.is_adjusted
    WHERE f.is_counted
),

looking_back AS (
    SELECT
        c.session_id,
        c.aspect,
        MAX(p.z) FILTER (
            WHERE p.session_date > c.session_date - c.clear_days OR p.session_no >= c.session_no - 1
        ) AS highest_z,
        COUNT(*) FILTER (WHERE p.session_no > c.session_no - c.flag_recent_sessions) AS recent_sessions,
        COUNT(*) FILTER (WHERE p.session_no > c.session_no - c.flag_recent_sessions AND p.ln_ratio > 0) AS recent_outside
    FROM looked_at AS c
    INNER JOIN looked_at AS p
        ON
            c.student_id = p.student_id
            AND c.aspect = p.aspect
            AND c.stratum = p.stratum
            AND p.session_no <= c.session_no
            AND (p.session_date > c.session_date - c.clear_days OR p.session_no > c.session_no - c.flag_recent_sessions - 1)
    GROUP BY c.session_id, c.aspect
),

judged AS (
    SELECT
        l.session_id,
        l.aspect,
        l.student_id,
        l.stratum,
        l.session_no,
        l.session_date,
        l.z,
        l.z_flown,
        l.z_adjusted,
        b.recent_outside,
        b.recent_sessions,
        l.is_slipping,
        l.is_improving,
        l.clear_days,
        l.session_no >= l.flag_minimum_sessions
        AND l.z >= l.flag_raise_z
        AND b.recent_outside >= l.flag_outside_sessions AS is_level_raise,
        l.is_slipping AND l.z >= l.flag_clear_z AS is_slip_raise,
        l.session_no >= l.flag_minimum_sessions
        AND l.z_flown >= l.flag_raise_z
        AND l.z_adjusted < l.flag_raise_z
        AND b.recent_outside >= l.flag_outside_sessions AS is_device_doubt,
        b.highest_z <= l.flag_clear_z AND l.session_no > 1 AS is_clear
    FROM looked_at AS l
    INNER JOIN looking_back AS b ON l.session_id = b.session_id AND l.aspect = b.aspect
),

fold AS (
    SELECT
        session_id,
        aspect,
        student_id,
        stratum,
        session_no,
        FALSE AS is_flagged,
        CAST(NULL AS DATE) AS since_date,
        CAST(NULL AS DATE) AS cleared_date
    FROM judged
    WHERE session_no = 1
    UNION ALL
    SELECT
        j.session_id,
        j.aspect,
        j.student_id,
        j.stratum,
        j.session_no,
        CASE
            WHEN b.is_flagged THEN NOT j.is_clear
            ELSE
                (j.is_level_raise OR j.is_slip_raise)
                AND NOT j.is_improving
                AND (b.cleared_date IS NULL OR j.session_date - b.cleared_date > j.clear_days)
        END AS is_flagged,
        CASE
            WHEN b.is_flagged AND NOT j.is_clear THEN b.since_date
            WHEN b.is_flagged THEN NULL
            WHEN
                (j.is_level_raise OR j.is_slip_raise)
                AND NOT j.is_improving
                AND (b.cleared_date IS NULL OR j.session_date - b.cleared_date > j.clear_days) THEN j.session_date
        END AS since_date,
        CASE WHEN b.is_flagged AND j.is_clear THEN j.session_date ELSE b.cleared_date END AS cleared_date
    FROM fold AS b
    INNER JOIN judged AS j
        ON b.student_id = j.student_id AND b.aspect = j.aspect AND b.stratum = j.stratum AND j.session_no = b.session_no + 1
)

SELECT
    j.session_id,
    j.aspect,
    j.student_id,
    j.stratum,
    j.session_no,
    j.session_date,
    j.z,
    j.z_flown,
    j.z_adjusted,
    j.recent_outside,
    j.recent_sessions,
    j.is_slipping,
    j.is_improving,
    j.is_level_raise,
    j.is_slip_raise,
    j.is_device_doubt,
    j.is_clear,
    f.is_flagged,
    f.since_date,
    f.cleared_date
FROM judged AS j
INNER JOIN fold AS f ON j.session_id = f.session_id AND j.aspect = f.aspect
ORDER BY j.aspect, j.student_id, j.stratum, j.session_no;
