-- One row is a value of a patchy channel within a maneuver, with its neighbours in that channel. A TABLE: several readings take it beside placed_samples.
-- Inputs: placed_samples, patchy_channels, maneuver_numbers, slow_channels, derived_speeds
-- Grain: maneuver_no, channel, t_ms
-- Units: times and steps in milliseconds; value and previous_value in the channel's unit
-- Source: as placed_samples, but a blank cell is no row and no gap, and headings go on past half a turn. step_ms is null for the
-- channel's first value in the maneuver and across a step longer than its gap limit, next_step_ms likewise.
CREATE OR REPLACE TABLE patchy_observations AS
WITH side_by_side AS (
    SELECT
        p.maneuver_no,
        p.t_ms,
        p.altitude_error_ft AS altitude,
        p.heading_error_deg AS heading,
        CAST(p.vertical_speed_fpm AS DOUBLE) AS vertical_speed,
        CAST(p.airspeed_kt AS DOUBLE) AS airspeed,
        CAST(p.bank_deg AS DOUBLE) AS bank,
        CAST(p.pitch_control AS DOUBLE) AS pitch_control,
        CAST(p.roll_control AS DOUBLE) AS roll_control,
        CAST(p.pitch_force AS DOUBLE) AS pitch_force
    FROM placed_samples AS p
    SEMI JOIN patchy_channels AS c ON p.maneuver_no = c.maneuver_no
),

by_channel AS (
    SELECT *
    FROM side_by_side
    UNPIVOT (
        value FOR channel IN (altitude, heading, vertical_speed, airspeed, bank, pitch_control, roll_control, pitch_force)
    )
),

recorded AS (
    SELECT
        v.maneuver_no,
        v.channel,
        v.t_ms,
        v.value
    FROM by_channel AS v
    SEMI JOIN patchy_channels AS c ON v.maneuver_no = c.maneuver_no AND v.channel = c.channel
    UNION ALL
    SELECT
        n.maneuver_no,
        'vertical_speed' AS channel,
        d.t_ms,
        d.value
    FROM derived_speeds AS d
    INNER JOIN maneuver_numbers AS n
        ON d.session_id = n.session_id AND d.revision = n.revision AND d.t_ms >= n.start_ms AND d.t_ms <= n.end_ms
),

neighbours AS (
    SELECT
        *,
        t_ms - LAG(t_ms) OVER by_time AS step_ms,
        LEAD(t_ms) OVER by_time - t_ms AS next_step_ms,
        LAG(value) OVER by_time AS previous_value,
        CASE
            WHEN channel <> 'heading' THEN 0
            WHEN value - LAG(value) OVER by_time <= -180 THEN 1
            WHEN value - LAG(value) OVER by_time > 180 THEN -1
            ELSE 0
        END AS passed
    FROM recorded
    WINDOW by_time AS (PARTITION BY maneuver_no, channel ORDER BY t_ms)
),

counted AS (
    SELECT
        *,
        SUM(passed) OVER (PARTITION BY maneuver_no, channel ORDER BY t_ms) AS passings
    FROM neighbours
)

SELECT
    p.maneuver_no,
    p.channel,
    p.t_ms,
    p.value + 360 * p.passings AS value,
    CASE WHEN p.step_ms <= COALESCE(s.gap_limit_ms, n.gap_limit_ms) THEN p.previous_value + 360 * (p.passings - p.passed) END AS previous_value,
    CASE WHEN p.step_ms <= COALESCE(s.gap_limit_ms, n.gap_limit_ms) THEN p.step_ms END AS step_ms,
    CASE WHEN p.next_step_ms <= COALESCE(s.gap_limit_ms, n.gap_limit_ms) THEN p.next_step_ms END AS next_step_ms
FROM counted AS p
INNER JOIN maneuver_numbers AS n ON p.maneuver_no = n.maneuver_no
LEFT JOIN slow_channels AS s ON n.session_id = s.session_id AND n.revision = s.revision AND p.channel = s.channel;
