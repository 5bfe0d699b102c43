-- One row is one second of a searched session and how the aeroplane moved around it, slowly seen. A TABLE: several searches read it.
-- Inputs: session_seconds, limits
-- Grain: session_id, revision, second_no
-- Units: climb_fpm in ft/min; turn_deg_per_s in degrees per second; power_step and power_kept in fractions of full power; null without power
-- Source: ours; least-squares slopes over inferred_slope_s and inferred_turn_slope_s, so that neither the aeroplane's breathing nor gusts nor
-- a weak hand count. power_step: mean of seconds 1 to 6 after less that of 5 to 0 before. power_kept: median of the minute
-- after less that of the minute before. power_unrest: range over the 15 s before.
CREATE OR REPLACE TABLE slow_motions AS
SELECT
    s.session_id,
    s.revision,
    s.second_no,
    s.stretch_no,
    60 * REGR_SLOPE(s.altitude_ft, s.second_no) OVER around_climb AS climb_fpm,
    REGR_SLOPE(s.heading_deg, s.second_no) OVER around_turn AS turn_deg_per_s,
    AVG(s.power) OVER soon_after - AVG(s.power) OVER just_before AS power_step,
    MEDIAN(s.power) OVER after_change - MEDIAN(s.power) OVER before_change AS power_kept,
    MAX(s.power) OVER well_before - MIN(s.power) OVER well_before AS power_unrest
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
    ),
    before_change AS (
        PARTITION BY s.session_id, s.revision, s.stretch_no
        ORDER BY s.second_no
        RANGE BETWEEN 60 PRECEDING AND CURRENT ROW
    ),
    after_change AS (
        PARTITION BY s.session_id, s.revision, s.stretch_no
        ORDER BY s.second_no
        RANGE BETWEEN 5 FOLLOWING AND 65 FOLLOWING
    ),
    well_before AS (
        PARTITION BY s.session_id, s.revision, s.stretch_no
        ORDER BY s.second_no
        RANGE BETWEEN 17 PRECEDING AND 2 PRECEDING
    );
