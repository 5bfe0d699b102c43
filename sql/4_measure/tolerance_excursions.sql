-- One row is how a maneuver's channel stayed within one tolerance: share of time, times left, longest, total time outside.
-- Inputs: maneuvers, sessions, standards, channel_sums, slow_channels, excursion_runs, exceed_times, limits
-- Grain: maneuver_id, channel, tolerance
-- Units: tolerance in the channel's unit; in_tolerance as a fraction of observed time; excursions, excursions_2x and excursions_2s are counts; _s in seconds
-- Source: as excursions, which lays these figures beside each standard; many standards share a tolerance, so that what only needs the
-- standard held to reads them here
CREATE OR REPLACE VIEW tolerance_excursions AS
WITH tolerances AS (
    SELECT DISTINCT
        channel,
        tolerance
    FROM standards
),

pairs AS (
    SELECT
        m.maneuver_id,
        t.channel,
        t.tolerance,
        c.observed_s,
        CASE
            WHEN c.maneuver_id IS NULL THEN 'no ' || t.channel || ' recorded'
            WHEN c.observed_s IS NULL THEN 'fewer than two neighbouring samples'
            WHEN t.channel = 'altitude' AND m.target_altitude_ft IS NULL THEN 'no target altitude'
            WHEN t.channel = 'heading' AND m.target_heading_deg IS NULL THEN 'no target heading'
            WHEN GREATEST(s.median_step_s, x.median_step_s) > l.excursion_step_limit_s THEN 'samples are too far apart to time an excursion'
        END AS excursions_reason
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    CROSS JOIN tolerances AS t
    CROSS JOIN limits AS l
    LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND t.channel = c.channel
    LEFT JOIN slow_channels AS x ON m.session_id = x.session_id AND m.revision = x.revision AND t.channel = x.channel
),

lengths AS (
    SELECT
        maneuver_id,
        channel,
        ABS(edge) AS width,
        end_s - start_s AS out_s,
        ROUND(end_s - start_s, 6) AS length_s,
        is_start_cut OR is_end_cut AS is_cut
    FROM excursion_runs
),

runs AS (
    SELECT
        r.maneuver_id,
        r.channel,
        r.width,
        COUNT(*) AS runs,
        COUNT(*) FILTER (WHERE r.length_s >= l.chatter_s) AS long_runs,
        SUM(r.out_s) AS out_s,
        MAX(r.length_s) AS longest_out_s,
        COALESCE(MAX(r.length_s) FILTER (WHERE r.is_cut) >= MAX(r.length_s), FALSE) AS is_longest_lower_bound
    FROM lengths AS r
    CROSS JOIN limits AS l
    GROUP BY r.maneuver_id, r.channel, r.width
)

SELECT
    p.maneuver_id,
    p.channel,
    p.tolerance,
    CASE WHEN p.excursions_reason IS NULL THEN ROUND(GREATEST(1 - COALESCE(one.out_s, 0) / p.observed_s, 0), 9) END AS in_tolerance,
    CASE WHEN p.excursions_reason IS NULL THEN COALESCE(one.runs, 0) END AS excursions,
    CASE WHEN p.excursions_reason IS NULL THEN COALESCE(two.runs, 0) END AS excursions_2x,
    CASE WHEN p.excursions_reason IS NULL THEN COALESCE(one.long_runs, 0) END AS excursions_2s,
    CASE WHEN p.excursions_reason IS NULL THEN ROUND(COALESCE(one.out_s, 0), 6) END AS out_s,
    CASE WHEN p.excursions_reason IS NULL THEN ROUND(COALESCE(one.longest_out_s, 0), 6) END AS longest_out_s,
    CASE WHEN p.excursions_reason IS NULL THEN COALESCE(one.is_longest_lower_bound, FALSE) END AS is_longest_lower_bound,
    CASE WHEN p.excursions_reason IS NULL THEN ROUND(e.time_to_exceed_s, 6) END AS time_to_exceed_s,
    p.excursions_reason
FROM pairs AS p
LEFT JOIN runs AS one ON p.maneuver_id = one.maneuver_id AND p.channel = one.channel AND p.tolerance = one.width
LEFT JOIN runs AS two ON p.maneuver_id = two.maneuver_id AND p.channel = two.channel AND 2 * p.tolerance = two.width
LEFT JOIN exceed_times AS e ON p.maneuver_id = e.maneuver_id AND p.channel = e.channel AND p.tolerance = e.tolerance;
