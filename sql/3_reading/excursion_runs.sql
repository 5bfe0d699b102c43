-- One row is an excursion: a stretch of a maneuver beyond one edge of a band. A TABLE: kept, so that a figure can be followed to its seconds.
-- Inputs: placed_samples, patchy_channels, patchy_observations, airspeed_bands, channel_sums, maneuver_numbers, band_edges
-- Grain: maneuver_id, channel, edge, run_no
-- Units: edge in the channel's unit, positive above and negative below the target; start_s and end_s in seconds from the session's start
-- Kept: one file beside each samples file
-- Source: between neighbouring samples the signal is a straight line; on the edge is inside. is_start_cut and is_end_cut say that
-- the maneuver's edge or a gap cut the excursion, so that its length is a lower bound. An airspeed is judged about the median;
-- without a target an altitude or a heading has no band and no rows.
CREATE OR REPLACE TABLE excursion_runs AS
WITH bands AS MATERIALIZED (
    SELECT
        channel,
        CAST(ROW_NUMBER() OVER (ORDER BY channel) AS INTEGER) AS band_no,
        MIN(ABS(edge)) AS nearest_width
    FROM band_edges
    GROUP BY channel
),

edges AS (
    SELECT
        b.band_no,
        b.channel,
        e.edge,
        SIGN(e.edge) AS side,
        ABS(e.edge) AS width,
        UNNEST([0, CAST(SIGN(e.edge) AS INTEGER)]) AS met_from
    FROM band_edges AS e
    INNER JOIN bands AS b ON e.channel = b.channel
),

airspeeds AS (
    SELECT
        p.maneuver_no,
        p.t_ms,
        p.step_ms,
        p.next_step_ms,
        p.airspeed_kt - a.median_kt AS error,
        p.previous_airspeed_kt - a.median_kt AS previous_error
    FROM placed_samples AS p
    INNER JOIN airspeed_bands AS a ON p.maneuver_no = a.maneuver_no
),

outside AS (
    SELECT
        p.maneuver_no,
        b.band_no,
        p.t_ms,
        p.step_ms,
        p.next_step_ms,
        p.altitude_error_ft AS error,
        p.previous_altitude_error_ft AS previous_error
    FROM placed_samples AS p
    INNER JOIN bands AS b ON b.channel = 'altitude'
    WHERE ABS(p.altitude_error_ft) > b.nearest_width OR ABS(p.previous_altitude_error_ft) > b.nearest_width
    UNION ALL
    SELECT
        p.maneuver_no,
        b.band_no,
        p.t_ms,
        p.step_ms,
        p.next_step_ms,
        p.heading_error_deg AS error,
        p.previous_heading_error_deg AS previous_error
    FROM placed_samples AS p
    INNER JOIN bands AS b ON b.channel = 'heading'
    WHERE ABS(p.heading_error_deg) > b.nearest_width OR ABS(p.previous_heading_error_deg) > b.nearest_width
    UNION ALL
    SELECT
        p.maneuver_no,
        b.band_no,
        p.t_ms,
        p.step_ms,
        p.next_step_ms,
        CAST(p.vertical_speed_fpm AS DOUBLE) AS error,
        CAST(p.previous_vertical_speed_fpm AS DOUBLE) AS previous_error
    FROM placed_samples AS p
    INNER JOIN bands AS b ON b.channel = 'vertical_speed'
    WHERE ABS(p.vertical_speed_fpm) > b.nearest_width OR ABS(p.previous_vertical_speed_fpm) > b.nearest_width
    UNION ALL
    SELECT
        p.maneuver_no,
        b.band_no,
        p.t_ms,
        p.step_ms,
        p.next_step_ms,
        p.error AS error,
        p.previous_error AS previous_error
    FROM airspeeds AS p
    INNER JOIN bands AS b ON b.channel = 'airspeed'
    WHERE ABS(p.error) > b.nearest_width OR ABS(p.previous_error) > b.nearest_width
),

observed AS (
    SELECT
        maneuver_no,
        band_no,
        FALSE AS is_patchy,
        t_ms,
        step_ms,
        next_step_ms,
        error,
        CASE WHEN step_ms IS NOT NULL THEN previous_error END AS previous_error
    FROM outside
    UNION ALL
    SELECT
        o.maneuver_no,
        b.band_no,
        TRUE AS is_patchy,
        o.t_ms,
        o.step_ms,
        o.next_step_ms,
        o.value - COALESCE(a.median_kt, 0) AS error,
        o.previous_value - COALESCE(a.median_kt, 0) AS previous_error
    FROM patchy_observations AS o
    INNER JOIN bands AS b ON o.channel = b.channel
    LEFT JOIN airspeed_bands AS a ON o.maneuver_no = a.maneuver_no AND o.channel = 'airspeed'
),

crossed AS (
    SELECT
        o.maneuver_no,
        e.channel,
        e.edge,
        o.is_patchy,
        o.t_ms / 1000 AS t_s,
        o.step_ms / 1000 AS step_s,
        o.next_step_ms IS NOT NULL AS has_next,
        e.side * o.error - e.width AS beyond,
        e.side * o.previous_error - e.width AS beyond_before
    FROM observed AS o
    INNER JOIN edges AS e
        ON
            o.band_no = e.band_no
            AND CASE WHEN o.error * o.previous_error < 0 THEN 0 ELSE CAST(SIGN(o.error) AS INTEGER) END = e.met_from
            AND (
                (e.side * o.error > e.width) <> COALESCE(e.side * o.previous_error > e.width, FALSE)
                OR (e.side * o.error > e.width AND o.next_step_ms IS NULL)
            )
),

sides AS (
    SELECT
        x.maneuver_no,
        x.channel,
        x.edge,
        x.t_s,
        x.step_s,
        x.has_next,
        x.beyond,
        x.beyond_before
    FROM crossed AS x
    LEFT JOIN patchy_channels AS c ON x.maneuver_no = c.maneuver_no AND x.channel = c.channel
    WHERE x.is_patchy = (c.channel IS NOT NULL)
),

turning AS (
    SELECT
        maneuver_no,
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
),

starts AS (
    SELECT
        maneuver_no,
        channel,
        edge,
        start_s,
        is_start_cut,
        ROW_NUMBER() OVER (PARTITION BY maneuver_no, channel, edge ORDER BY t_s) AS run_no
    FROM turning
    WHERE start_s IS NOT NULL
),

ends AS (
    SELECT
        maneuver_no,
        channel,
        edge,
        end_s,
        is_end_cut,
        ROW_NUMBER() OVER (PARTITION BY maneuver_no, channel, edge ORDER BY t_s) AS run_no
    FROM turning
    WHERE end_s IS NOT NULL
)

SELECT
    n.maneuver_id,
    s.channel,
    s.edge,
    CAST(s.run_no AS INTEGER) AS run_no,
    s.start_s,
    e.end_s,
    s.is_start_cut,
    e.is_end_cut
FROM starts AS s
INNER JOIN ends AS e
    ON s.maneuver_no = e.maneuver_no AND s.channel = e.channel AND s.edge = e.edge AND s.run_no = e.run_no
INNER JOIN maneuver_numbers AS n ON s.maneuver_no = n.maneuver_no
INNER JOIN channel_sums AS c ON n.maneuver_id = c.maneuver_id AND s.channel = c.channel AND c.reference IS NOT NULL
WHERE
    (s.channel <> 'altitude' OR n.target_altitude_ft IS NOT NULL)
    AND (s.channel <> 'heading' OR n.target_heading_deg IS NOT NULL)
ORDER BY s.maneuver_no, s.channel, s.edge, s.run_no;
