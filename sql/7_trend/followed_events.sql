-- One row is a level-off or power change that counts, and when it was trimmed: settled, set, or whichever came first.
-- A TABLE: curves and shares read it many times.
-- Inputs: maneuvers, maneuver_states, sessions, session_air, session_gates, trim_settling, reviews, as_of
-- Grain: maneuver_id, figure
-- Units: time_s in seconds from the event's start: when it happened, or how long it was followed without (is_settled false)
-- Source: trim_settling. Smooth or light air, flown by the student and not by an autopilot, no data check against the whole log, not set aside by
-- an instructor. Not reached is censored at how long it was followed, never dropped; unknown is left out.
CREATE OR REPLACE TABLE followed_events AS
WITH set_aside AS (
    SELECT DISTINCT
        maneuver_id,
        session_id
    FROM reviews
    WHERE kind = 'set-aside' AND (aspect IS NULL OR aspect = 'trim')
),

followed AS (
    SELECT
        m.maneuver_id,
        m.kind,
        s.session_id,
        s.student_id,
        COALESCE(s.cohort, '(none)') AS cohort,
        s.device_class,
        s.session_date,
        s.started_at,
        m.start_s,
        t.trim_settle_s,
        t.is_settled,
        t.followed_s,
        t.trim_set_s,
        t.is_set,
        t.set_followed_s
    FROM trim_settling AS t
    INNER JOIN maneuvers AS m ON t.maneuver_id = m.maneuver_id
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    CROSS JOIN as_of AS d
    LEFT JOIN maneuver_states AS a ON m.maneuver_id = a.maneuver_id
    LEFT JOIN session_air AS r ON s.session_id = r.session_id
    WHERE
        s.session_date <= d.as_of_date
        AND NOT COALESCE(r.is_rougher, s.air IN ('moderate', 'rough'), FALSE)
        AND COALESCE(m.flown_by, 'student') = 'student'
        AND NOT COALESCE(a.is_autopilot_on, FALSE)
        AND NOT EXISTS (
            SELECT 1
            FROM session_gates AS g
            WHERE g.session_id = m.session_id AND g.severity = 'not_scored' AND g.channel IS NULL
        )
        AND NOT EXISTS (
            SELECT 1
            FROM set_aside AS x
            WHERE x.maneuver_id = m.maneuver_id OR (x.maneuver_id IS NULL AND x.session_id = m.session_id)
        )
),

figures AS (
    SELECT
        maneuver_id,
        session_id,
        student_id,
        cohort,
        device_class,
        session_date,
        started_at,
        start_s,
        'settled' AS figure,
        is_settled AS is_reached,
        COALESCE(trim_settle_s, followed_s) AS time_s
    FROM followed
    UNION ALL
    SELECT
        maneuver_id,
        session_id,
        student_id,
        cohort,
        device_class,
        session_date,
        started_at,
        start_s,
        'set' AS figure,
        is_set AS is_reached,
        COALESCE(trim_set_s, set_followed_s) AS time_s
    FROM followed
    UNION ALL
    SELECT
        maneuver_id,
        session_id,
        student_id,
        cohort,
        device_class,
        session_date,
        started_at,
        start_s,
        'settled or set' AS figure,
        is_settled OR is_set AS is_reached,
        CASE
            WHEN is_settled OR is_set THEN LEAST(trim_settle_s, trim_set_s)
            ELSE LEAST(followed_s, set_followed_s)
        END AS time_s
    FROM followed
)

SELECT
    maneuver_id,
    figure,
    session_id,
    student_id,
    cohort,
    device_class,
    session_date,
    started_at,
    start_s,
    is_reached AS is_settled,
    time_s
FROM figures
WHERE is_reached IS NOT NULL AND time_s IS NOT NULL
ORDER BY figure, student_id, session_date, started_at, start_s;
