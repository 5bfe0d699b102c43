-- One row is an excursion: a stretch of a maneuver beyond one edge of a band. A TABLE: kept, so that a figure can be followed to its seconds.
-- Inputs: observations, channel_sums, maneuver_windows, band_edges
-- Grain: maneuver_id, channel, edge, run_no
-- Units: edge in the channel's unit, positive above and negative below the target; start_s and end_s in seconds from the session's start
-- Kept: one file beside each samples file
-- Source: between neighbouring samples the signal is a straight line; on the edge is inside. is_start_cut and is_end_cut say that
-- the maneuver's edge or a gap cut the excursion, so that its length is a lower bound. An airspeed is judged about the median;
-- without a target an altitude or a heading has no band and no rows.
CREATE OR REPLACE TABLE excursion_runs AS
WITH sides AS (
    SELECT
        o.maneuver_id,
        o.channel,
        b.edge,
        o.t_s,
        o.step_s,
        o.has_next,
        SIGN(b.edge) * (o.value - s.reference) - ABS(b.edge) AS beyond,
        SIGN(b.edge) * (o.previous_value - s.reference) - ABS(b.edge) AS beyond_before
    FROM observations AS o
    INNER JOIN channel_sums AS s ON o.maneuver_id = s.maneuver_id AND o.channel = s.channel
    INNER JOIN maneuver_windows AS w ON o.maneuver_id = w.maneuver_id
    INNER JOIN band_edges AS b ON o.channel = b.channel
    WHERE
        o.channel IN ('altitude', 'heading', 'airspeed', 'vertical_speed') -- those with edges, said so that no other is read
        AND (ABS(o.value - s.reference) > ABS(b.edge) OR ABS(o.previous_value - s.reference) > ABS(b.edge))
        AND (o.channel <> 'altitude' OR w.target_altitude_ft IS NOT NULL)
        AND (o.channel <> 'heading' OR w.target_heading_deg IS NOT NULL)
),

turning AS (
    SELECT
        maneuver_id,
        channel,
        edge,
        t_s,
        CASE
            WHEN beyond > 0 AND step_s IS NULL THEN t_s
            WHEN beyond > 0 AND beyond_before <= 0 THEN t_s - step_s * beyond / (beyond - beyond_before)
        END AS start_s,
        step_s IS NULL AS is_start_cut,
        CASE
            WHEN beyond > 0 AND NOT has_next THEN t_s
            WHEN beyond <= 0 AND beyond_before > 0 THEN t_s - step_s * beyond / (beyond - beyond_before)
        END AS end_s,
        beyond > 0 AS is_end_cut
    FROM sides
    WHERE
        (beyond > 0 AND (step_s IS NULL OR NOT has_next OR beyond_before <= 0))
        OR (beyond <= 0 AND beyond_before > 0)
),

starts AS (
    SELECT
        maneuver_id,
        channel,
        edge,
        start_s,
        is_start_cut,
        ROW_NUMBER() OVER (PARTITION BY maneuver_id, channel, edge ORDER BY t_s) AS run_no
    FROM turning
    WHERE start_s IS NOT NULL
),

ends AS (
    SELECT
        maneuver_id,
        channel,
        edge,
        end_s,
        is_end_cut,
        ROW_NUMBER() OVER (PARTITION BY maneuver_id, channel, edge ORDER BY t_s) AS run_no
    FROM turning
    WHERE end_s IS NOT NULL
)

SELECT
    s.maneuver_id,
    s.channel,
    s.edge,
    CAST(s.run_no AS INTEGER) AS run_no,
    s.start_s,
    e.end_s,
    s.is_start_cut,
    e.is_end_cut
FROM starts AS s
INNER JOIN ends AS e
    ON s.maneuver_id = e.maneuver_id AND s.channel = e.channel AND s.edge = e.edge AND s.run_no = e.run_no
ORDER BY s.maneuver_id, s.channel, s.edge, s.run_no;
