-- One row is a channel with a target over a maneuver, and the band about the target that holds most of the time. A TABLE: the samples are read for it alone.
-- Inputs: placed_samples, patchy_channels, patchy_observations, limits
-- Grain: maneuver_no, channel
-- Units: hold95 in the channel's unit
-- Source: the smallest band, in steps of altitude_bin_ft or heading_bin_deg, that contains hold_share of the observed time. Time is added up in cells of 64
-- steps first, and step by step only in the cell in which the share is reached. No row where no time was observed.
CREATE OR REPLACE TABLE hold_bands AS
WITH steps AS (
    SELECT
        p.maneuver_no,
        'altitude' AS channel,
        CAST(ROUND(ABS(p.altitude_error_ft / l.altitude_bin_ft)) AS INTEGER) AS step_no,
        SUM(COALESCE(p.step_ms, 0) + COALESCE(p.next_step_ms, 0)) AS weight_ms
    FROM placed_samples AS p
    CROSS JOIN limits AS l
    WHERE p.altitude_error_ft IS NOT NULL
    GROUP BY p.maneuver_no, step_no
    UNION ALL
    SELECT
        p.maneuver_no,
        'heading' AS channel,
        CAST(ROUND(ABS(p.heading_error_deg / l.heading_bin_deg)) AS INTEGER) AS step_no,
        SUM(COALESCE(p.step_ms, 0) + COALESCE(p.next_step_ms, 0)) AS weight_ms
    FROM placed_samples AS p
    CROSS JOIN limits AS l
    WHERE p.heading_error_deg IS NOT NULL
    GROUP BY p.maneuver_no, step_no
),

all_steps AS MATERIALIZED (
    SELECT
        s.maneuver_no,
        s.channel,
        s.step_no,
        s.weight_ms
    FROM steps AS s
    ANTI JOIN patchy_channels AS c ON s.maneuver_no = c.maneuver_no AND s.channel = c.channel
    UNION ALL
    SELECT
        o.maneuver_no,
        o.channel,
        CAST(ROUND(ABS(o.value / CASE WHEN o.channel = 'altitude' THEN l.altitude_bin_ft ELSE l.heading_bin_deg END)) AS INTEGER) AS step_no,
        SUM(COALESCE(o.step_ms, 0) + COALESCE(o.next_step_ms, 0)) AS weight_ms
    FROM patchy_observations AS o
    CROSS JOIN limits AS l
    WHERE o.channel IN ('altitude', 'heading')
    GROUP BY o.maneuver_no, o.channel, step_no
),

cells AS (
    SELECT
        maneuver_no,
        channel,
        step_no // 64 AS cell_no,
        SUM(weight_ms) AS weight_ms
    FROM all_steps
    GROUP BY maneuver_no, channel, cell_no
),

running AS (
    SELECT
        *,
        SUM(weight_ms) OVER (PARTITION BY maneuver_no, channel ORDER BY cell_no) AS weight_within_ms,
        SUM(weight_ms) OVER (PARTITION BY maneuver_no, channel) AS observed_ms
    FROM cells
),

reached AS (
    SELECT
        r.maneuver_no,
        r.channel,
        MIN(r.cell_no) AS cell_no,
        ARG_MIN(r.weight_within_ms - r.weight_ms, r.cell_no) AS weight_before_ms,
        ANY_VALUE(l.hold_share * r.observed_ms * (1 - 1e-12)) AS weight_asked_ms
    FROM running AS r
    CROSS JOIN limits AS l
    WHERE r.observed_ms > 0 AND r.weight_within_ms >= l.hold_share * r.observed_ms * (1 - 1e-12)
    GROUP BY r.maneuver_no, r.channel
),

within AS (
    SELECT
        s.maneuver_no,
        s.channel,
        s.step_no,
        r.weight_asked_ms,
        r.weight_before_ms + SUM(s.weight_ms) OVER (PARTITION BY s.maneuver_no, s.channel ORDER BY s.step_no) AS weight_within_ms
    FROM all_steps AS s
    INNER JOIN reached AS r ON s.maneuver_no = r.maneuver_no AND s.channel = r.channel AND s.step_no // 64 = r.cell_no
)

SELECT
    w.maneuver_no,
    w.channel,
    MIN(w.step_no) * CASE WHEN w.channel = 'altitude' THEN ANY_VALUE(l.altitude_bin_ft) ELSE ANY_VALUE(l.heading_bin_deg) END AS hold95
FROM within AS w
CROSS JOIN limits AS l
WHERE w.weight_within_ms >= w.weight_asked_ms
GROUP BY w.maneuver_no, w.channel;
