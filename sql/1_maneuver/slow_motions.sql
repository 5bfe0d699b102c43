-- One row is one second of a searched session and how the aeroplane moved around it, slowly seen. A TABLE: several searches read it, in stored order.
-- Inputs: session_seconds, limits
-- Grain: session_id, revision, second_no
-- Units: climb_fpm in ft/min; turn_deg_per_s in degrees per second; power_step and power_kept in fractions of full power; null without power, or where one second
-- alone tells no slope
-- Source: ours; least-squares slopes over inferred_slope_s and inferred_turn_slope_s, so that neither the aeroplane's breathing nor gusts nor
-- a weak hand count. power_step: mean of seconds 1 to 6 after less that of 5 to 0 before. Where that is inferred_power_step or more:
-- power_kept: median of the minute after less that of the minute before, power_unrest: range over the 15 s before.
CREATE OR REPLACE TABLE slow_motions AS
WITH slopes AS MATERIALIZED (
    SELECT
        s.session_id,
        s.revision,
        s.second_no,
        s.stretch_no,
        60 * REGR_SLOPE(s.altitude_ft, s.second_no) OVER around_climb AS climb_fpm,
        REGR_SLOPE(s.heading_deg, s.second_no) OVER around_turn AS turn_deg_per_s,
        AVG(s.power) OVER soon_after - AVG(s.power) OVER just_before AS power_step
    FROM session_seconds AS s
    CROSS JOIN limits AS l
    WINDOW
        around_climb AS (
            PARTITION BY s.session_id, s.revision, s.stretch_no
            ORDER BY s.second_no
            RANGE BETWEEN CAST(l.inferred_slope_s / 2 AS INTEGER) PRECEDING AND CAST(l.inferred_slope_s / 2 AS INTEGER) FOLLOWING
        ),
        around_turn AS (
            PARTITION BY s.session_id, s.revision, s.stretch_no
            ORDER BY s.second_no
            RANGE BETWEEN CAST(FLOOR(l.inferred_turn_slope_s / 2) AS INTEGER) PRECEDING
            AND CAST(FLOOR(l.inferred_turn_slope_s / 2) AS INTEGER) FOLLOWING
        ),
        just_before AS (
            PARTITION BY s.session_id, s.revision, s.stretch_no
            ORDER BY s.second_no
            RANGE BETWEEN 5 PRECEDING AND CURRENT ROW
        ),
        soon_after AS (
            PARTITION BY s.session_id, s.revision, s.stretch_no
            ORDER BY s.second_no
            RANGE BETWEEN 1 FOLLOWING AND 6 FOLLOWING
        )
),

stepped AS (
    SELECT
        m.session_id,
        m.revision,
        m.second_no,
        m.stretch_no
    FROM slopes AS m
    CROSS JOIN limits AS l
    WHERE ABS(m.power_step) >= l.inferred_power_step
),

surroundings AS (
    SELECT
        p.session_id,
        p.revision,
        p.second_no,
        MEDIAN(s.power) FILTER (WHERE s.second_no BETWEEN p.second_no + 5 AND p.second_no + 65) AS after_change,
        MEDIAN(s.power) FILTER (WHERE s.second_no BETWEEN p.second_no - 60 AND p.second_no) AS before_change,
        MAX(s.power) FILTER (WHERE s.second_no BETWEEN p.second_no - 17 AND p.second_no - 2) AS highest_before,
        MIN(s.power) FILTER (WHERE s.second_no BETWEEN p.second_no - 17 AND p.second_no - 2) AS lowest_before
    FROM stepped AS p
    INNER JOIN session_seconds AS s
        ON
            p.session_id = s.session_id AND p.revision = s.revision AND p.stretch_no = s.stretch_no
            AND s.second_no BETWEEN p.second_no - 60 AND p.second_no + 65
    GROUP BY p.session_id, p.revision, p.second_no
)

SELECT
    m.session_id,
    m.revision,
    m.second_no,
    m.stretch_no,
    CASE WHEN NOT ISNAN(m.climb_fpm) THEN m.climb_fpm END AS climb_fpm,
    CASE WHEN NOT ISNAN(m.turn_deg_per_s) THEN m.turn_deg_per_s END AS turn_deg_per_s,
    m.power_step,
    p.after_change - p.before_change AS power_kept,
    p.highest_before - p.lowest_before AS power_unrest
FROM slopes AS m
LEFT JOIN surroundings AS p ON m.session_id = p.session_id AND m.revision = p.revision AND m.second_no = p.second_no
ORDER BY m.session_id, m.revision, m.second_no;
