-- One row is a level line of a drawn trace: the target, or an edge of the tolerance.
-- Inputs: page_trace_maneuvers, limits
-- Grain: maneuver_id, channel, value
-- Units: value as in page_trace_points: ft and deg from the target, ft/min, fraction of travel from neutral
-- Source: the standard of the student's current stage; for vertical speed near_zero_vertical_speed_fpm, for the control untrimmed_limit
CREATE OR REPLACE VIEW page_trace_edges AS
WITH bands AS (
    SELECT
        m.student_id,
        m.maneuver_id,
        c.channel,
        CASE c.channel
            WHEN 'altitude' THEN m.altitude_tolerance_ft
            WHEN 'heading' THEN m.heading_tolerance_deg
            WHEN 'vertical_speed' THEN k.near_zero_vertical_speed_fpm
            ELSE k.untrimmed_limit
        END AS width
    FROM page_trace_maneuvers AS m
    CROSS JOIN limits AS k
    CROSS JOIN (VALUES ('altitude'), ('heading'), ('vertical_speed'), ('pitch_control')) AS c (channel)
    WHERE
        (c.channel <> 'altitude' OR m.target_altitude_ft IS NOT NULL)
        AND (c.channel <> 'heading' OR m.target_heading_deg IS NOT NULL)
        AND (c.channel <> 'pitch_control' OR m.pitch_neutral IS NOT NULL)
)

SELECT
    student_id,
    maneuver_id,
    channel,
    'target' AS edge,
    0.0::DOUBLE AS value
FROM bands
UNION ALL
SELECT
    student_id,
    maneuver_id,
    channel,
    'tolerance' AS edge,
    side * width AS value
FROM bands
CROSS JOIN (VALUES (-1), (1)) AS s (side)
WHERE width IS NOT NULL
ORDER BY ALL;
