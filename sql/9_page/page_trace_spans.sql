-- One row is a stretch of a drawn maneuver outside the tolerance of the student's standard, as the page shades it.
-- Inputs: page_trace_maneuvers, excursion_runs
-- Grain: maneuver_id, channel, start_s, side
-- Units: start_s, end_s in seconds from the maneuver's start
-- Source: excursion_runs at once the tolerance; side: above or below the target (right or left of the heading). is_cut: the maneuver's edge or a gap
-- cut it, so that its length is a lower bound
CREATE OR REPLACE VIEW page_trace_spans AS
SELECT
    m.student_id,
    m.maneuver_id,
    r.channel,
    CASE WHEN r.channel = 'altitude' AND r.edge > 0 THEN 'above' WHEN r.channel = 'altitude' THEN 'below' WHEN r.edge > 0 THEN 'right' ELSE 'left' END AS side,
    ROUND(r.start_s - m.start_s, 1) AS start_s,
    ROUND(r.end_s - m.start_s, 1) AS end_s,
    r.is_start_cut OR r.is_end_cut AS is_cut
FROM page_trace_maneuvers AS m
INNER JOIN excursion_runs AS r ON m.maneuver_id = r.maneuver_id
WHERE
    (r.channel = 'altitude' AND ABS(r.edge) = m.altitude_tolerance_ft)
    OR (r.channel = 'heading' AND ABS(r.edge) = m.heading_tolerance_deg)
ORDER BY m.maneuver_id, r.channel, r.start_s;
