-- One row is a channel that came so slowly that the session's gap limit would take every step for a gap, and the limit it has instead.
-- A TABLE: the readings join it several times, and so do figures above that see no samples.
-- Inputs: stored_samples, stored_sessions, limits
-- Grain: session_id, revision, channel
-- Units: median_step_s in seconds; gap_limit_ms in milliseconds
-- Kept: one file beside each samples file
-- Source: a slower channel's blank cells are no gaps: only channels that landing found sparse are looked at, and only those whose
-- own median step, times channel_gap_steps, is longer than the session's gap limit have a row. Vertical speed that was not logged is as slow
-- as the altitude it is derived from.
CREATE OR REPLACE TABLE slow_channels AS
WITH slower_sessions AS (
    SELECT
        session_id,
        revision,
        sparse_channels,
        gap_limit_s,
        NOT LIST_CONTAINS(channels, 'vertical_speed_fpm') AS is_speed_derived
    FROM stored_sessions
    WHERE LEN(sparse_channels) > 0
),

recorded AS (
    SELECT
        p.session_id,
        p.revision,
        p.t_ms,
        s.gap_limit_s,
        UNNEST(
            [
                CASE WHEN p.altitude_ft IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'altitude_ft') THEN 'altitude' END,
                CASE
                    WHEN p.altitude_ft IS NOT NULL AND s.is_speed_derived AND LIST_CONTAINS(s.sparse_channels, 'altitude_ft')
                        THEN 'vertical_speed'
                END,
                CASE WHEN p.heading_deg IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'heading_deg') THEN 'heading' END,
                CASE
                    WHEN p.vertical_speed_fpm IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'vertical_speed_fpm')
                        THEN 'vertical_speed'
                END,
                CASE WHEN p.airspeed_kt IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'airspeed_kt') THEN 'airspeed' END,
                CASE WHEN p.bank_deg IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'bank_deg') THEN 'bank' END,
                CASE WHEN p.pitch_control IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'pitch_control') THEN 'pitch_control' END,
                CASE WHEN p.roll_control IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'roll_control') THEN 'roll_control' END,
                CASE WHEN p.pitch_force IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'pitch_force') THEN 'pitch_force' END,
                CASE WHEN p.pitch_trim IS NOT NULL AND LIST_CONTAINS(s.sparse_channels, 'pitch_trim') THEN 'pitch_trim' END
            ]
        ) AS channel
    FROM stored_samples AS p
    INNER JOIN slower_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
),

steps AS (
    SELECT
        session_id,
        revision,
        channel,
        gap_limit_s,
        t_ms - LAG(t_ms) OVER (PARTITION BY session_id, revision, channel ORDER BY t_ms) AS step_ms
    FROM recorded
    WHERE channel IS NOT NULL
),

medians AS (
    SELECT
        session_id,
        revision,
        channel,
        ANY_VALUE(gap_limit_s) AS gap_limit_s,
        MEDIAN(step_ms) AS median_step_ms
    FROM steps
    GROUP BY session_id, revision, channel
)

SELECT
    m.session_id,
    m.revision,
    m.channel,
    m.median_step_ms / 1000 AS median_step_s,
    CAST(FLOOR(l.channel_gap_steps * m.median_step_ms) AS INTEGER) AS gap_limit_ms
FROM medians AS m
CROSS JOIN limits AS l
WHERE l.channel_gap_steps * m.median_step_ms > 1000 * m.gap_limit_s
ORDER BY m.session_id, m.revision, m.channel;
