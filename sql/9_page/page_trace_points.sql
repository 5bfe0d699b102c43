-- One row is a point of a drawn trace: one channel of a maneuver at one time, thinned so that no extreme is lost.
-- Inputs: observations, stored_samples, page_trace_maneuvers, sessions, limits
-- Grain: maneuver_id, channel, t_s
-- Units: t_s in seconds from the maneuver's start; altitude in ft and heading in deg as errors from the target; vertical_speed in ft/min;
-- pitch_control from the device's neutral and pitch_trim as fractions of travel
-- Source: each channel's time is cut into page_trace_buckets stretches; the first, lowest, highest and last value of each is kept. A null value
-- marks a gap in the recording: the line is not drawn across it. Heading goes on past north, so that 359 to 001 is a step of 2.
CREATE OR REPLACE VIEW page_trace_points AS
WITH recorded AS (
    SELECT
        m.student_id,
        m.maneuver_id,
        o.channel,
        o.t_s - m.start_s AS t_s,
        CASE WHEN o.channel = 'pitch_control' THEN o.value - COALESCE(m.pitch_neutral, 0) ELSE o.value END AS value,
        o.step_s IS NULL AS is_after_gap,
        m.end_s - m.start_s AS length_s
    FROM page_trace_maneuvers AS m
    INNER JOIN observations AS o ON m.maneuver_id = o.maneuver_id
    WHERE o.channel IN ('altitude', 'heading', 'vertical_speed', 'pitch_control')
    UNION ALL
    SELECT
        m.student_id,
        m.maneuver_id,
        'pitch_trim' AS channel,
        p.t_ms / 1000.0::DOUBLE - m.start_s AS t_s,
        CAST(p.pitch_trim AS DOUBLE) AS value,
        FALSE AS is_after_gap,
        m.end_s - m.start_s AS length_s
    FROM page_trace_maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    INNER JOIN stored_samples AS p
        ON
            s.session_id = p.session_id AND s.revision = p.revision
            AND p.t_ms / 1000.0::DOUBLE >= m.start_s AND p.t_ms / 1000.0::DOUBLE <= m.end_s
    WHERE p.pitch_trim IS NOT NULL
),

bucketed AS (
    SELECT
        r.student_id,
        r.maneuver_id,
        r.channel,
        r.t_s,
        r.value,
        r.is_after_gap,
        CAST(FLOOR(r.t_s / NULLIF(r.length_s, 0) * k.page_trace_buckets) AS INTEGER) AS bucket_no
    FROM recorded AS r
    CROSS JOIN limits AS k
),

kept AS (
    SELECT
        student_id,
        maneuver_id,
        channel,
        t_s,
        value,
        is_after_gap,
        LAG(t_s) OVER (PARTITION BY maneuver_id, channel ORDER BY t_s) AS previous_s
    FROM bucketed
    QUALIFY
        is_after_gap
        OR ROW_NUMBER() OVER (PARTITION BY maneuver_id, channel, bucket_no ORDER BY value, t_s) = 1
        OR ROW_NUMBER() OVER (PARTITION BY maneuver_id, channel, bucket_no ORDER BY value DESC, t_s) = 1
        OR ROW_NUMBER() OVER (PARTITION BY maneuver_id, channel ORDER BY t_s) = 1
        OR ROW_NUMBER() OVER (PARTITION BY maneuver_id, channel ORDER BY t_s DESC) = 1
)

SELECT
    student_id,
    maneuver_id,
    channel,
    ROUND(t_s, 2) AS t_s,
    ROUND(value, CASE WHEN channel IN ('altitude', 'vertical_speed') THEN 0 WHEN channel = 'heading' THEN 1 ELSE 3 END) AS value
FROM kept
UNION ALL
SELECT
    student_id,
    maneuver_id,
    channel,
    ROUND(previous_s + (t_s - previous_s) / 2, 2) AS t_s,
    NULL AS value
FROM kept
WHERE is_after_gap AND previous_s IS NOT NULL
ORDER BY maneuver_id, channel, t_s;
