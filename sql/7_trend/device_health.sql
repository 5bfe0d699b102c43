-- One row is a check of a device as of the date asked for: where its controls rest, whether that stepped, how its sensors read, what the data checks found.
-- A TABLE: two pages read it, and what it rests on is dear.
-- Inputs: sessions, control_neutrals, control_moves, control_steps, sensor_biases, channel_steps, session_gates, limits, as_of
-- Grain: device_id, device_check
-- Units: value and bound in the unit of the row; session_count in sessions; since_date is when a step was seen
-- Source: ours; is_well is null, with device_reason, where it cannot be told:
-- of a step, where no day had neutral_step_students on both sides of it. It is told to operations, so that no student is charged for a device.
CREATE OR REPLACE TABLE device_health AS
WITH flown AS (
    SELECT
        s.device_id,
        s.session_id,
        s.revision,
        s.session_date
    FROM sessions AS s
    CROSS JOIN as_of AS d
    CROSS JOIN limits AS l
    WHERE
        s.device_id IS NOT NULL
        AND s.session_date <= d.as_of_date
        AND s.session_date > d.as_of_date - CAST(l.neutral_window_days AS INTEGER)
),

devices_flown AS (
    SELECT
        device_id,
        COUNT(*) AS session_count,
        MAX(session_date) AS last_date
    FROM flown
    GROUP BY device_id
),

neutrals AS (
    SELECT
        f.device_id,
        CASE n.input WHEN 'pitch_control' THEN 'pitch control at rest' ELSE 'roll control at rest' END AS device_check,
        n.neutral AS value,
        'of travel' AS unit,
        l.neutral_off_centre AS bound,
        NULL::DATE AS since_date,
        n.neutral_reason AS device_reason
    FROM devices_flown AS f
    CROSS JOIN limits AS l
    INNER JOIN control_neutrals AS n ON f.device_id = n.device_id AND f.last_date = n.session_date
),

looked_for AS (
    SELECT
        f.device_id,
        m.input,
        MAX(m.student_count) >= ANY_VALUE(l.neutral_step_students) AS is_told
    FROM devices_flown AS f
    CROSS JOIN limits AS l
    CROSS JOIN as_of AS d
    INNER JOIN control_moves AS m
        ON
            f.device_id = m.device_id
            AND m.session_date <= d.as_of_date
            AND m.session_date > d.as_of_date - CAST(l.neutral_window_days AS INTEGER)
    GROUP BY f.device_id, m.input
),

steps AS (
    SELECT
        f.device_id,
        CASE f.input WHEN 'pitch_control' THEN 'pitch control stepped' ELSE 'roll control stepped' END AS device_check,
        CASE WHEN f.is_told THEN COALESCE(ARG_MAX(c.step, c.session_date), 0) END AS value,
        'of travel' AS unit,
        ANY_VALUE(l.neutral_step) AS bound,
        MAX(c.session_date) AS since_date,
        CASE
            WHEN NOT f.is_told
                THEN 'no day with ' || CAST(ANY_VALUE(l.neutral_step_students) AS INTEGER) || ' students on both sides of it'
        END AS device_reason
    FROM looked_for AS f
    CROSS JOIN limits AS l
    CROSS JOIN as_of AS d
    LEFT JOIN control_steps AS c
        ON
            f.device_id = c.device_id AND f.input = c.input
            AND c.session_date <= d.as_of_date
            AND c.session_date > d.as_of_date - CAST(l.neutral_window_days AS INTEGER)
    GROUP BY f.device_id, f.input, f.is_told
),

biases AS (
    SELECT
        f.device_id,
        b.sensor || ' reads off' AS device_check,
        b.bias AS value,
        b.unit,
        CASE b.sensor WHEN 'bank' THEN l.bank_bias_deg ELSE l.vertical_speed_bias_fpm END AS bound,
        NULL::DATE AS since_date,
        b.bias_reason AS device_reason
    FROM devices_flown AS f
    CROSS JOIN limits AS l
    INNER JOIN sensor_biases AS b ON f.device_id = b.device_id AND f.last_date = b.session_date
),

resolutions AS (
    SELECT
        f.device_id,
        r.channel || ' in steps of' AS device_check,
        MEDIAN(r.resolution) AS value,
        CASE r.channel WHEN 'altitude' THEN 'ft' WHEN 'heading' THEN 'deg' ELSE 'of travel' END AS unit,
        ANY_VALUE(
            CASE r.channel WHEN 'altitude' THEN l.altitude_coarse_ft WHEN 'heading' THEN l.heading_coarse_deg ELSE l.control_coarse END
        ) AS bound,
        NULL::DATE AS since_date,
        NULL::VARCHAR AS device_reason
    FROM flown AS f
    CROSS JOIN limits AS l
    INNER JOIN channel_steps AS r ON f.session_id = r.session_id AND f.revision = r.revision
    WHERE r.channel IN ('altitude', 'heading', 'pitch_control')
    GROUP BY f.device_id, r.channel
),

gates AS (
    SELECT
        f.device_id,
        'sessions with a suspect channel' AS device_check,
        CAST(COUNT(DISTINCT g.session_id) AS DOUBLE) AS value,
        'sessions' AS unit,
        0.0::DOUBLE AS bound,
        NULL::DATE AS since_date,
        NULL::VARCHAR AS device_reason
    FROM flown AS f
    LEFT JOIN session_gates AS g ON f.session_id = g.session_id AND g.severity IN ('suspect', 'not_scored')
    GROUP BY f.device_id
),

all_checks AS (
    SELECT * FROM neutrals
    UNION ALL
    SELECT * FROM steps
    UNION ALL
    SELECT * FROM biases
    UNION ALL
    SELECT * FROM resolutions
    UNION ALL
    SELECT * FROM gates
)

SELECT
    c.device_id,
    c.device_check,
    c.value,
    c.unit,
    c.bound,
    ABS(c.value) <= c.bound AS is_well,
    c.since_date,
    f.session_count,
    c.device_reason
FROM all_checks AS c
INNER JOIN devices_flown AS f ON c.device_id = f.device_id;
