-- One row is a point of a settling curve as charts draw it: the last of each page_curve_step_s seconds.
-- Inputs: settling_curves, limits
-- Grain: cohort, figure, time_s
-- Units: time_s in seconds from the event's start; at_risk counts events; survival, low and high as shares not yet trimmed
-- Source: settling_curves, thinned: between two drawn points the curve may fall in smaller steps than shown, and ends where it ends
CREATE OR REPLACE VIEW page_settling_points AS
SELECT
    c.cohort,
    c.figure,
    c.time_s,
    c.at_risk,
    ROUND(c.survival, 4) AS survival,
    ROUND(c.low, 4) AS low,
    ROUND(c.high, 4) AS high,
    c.student_count
FROM settling_curves AS c
CROSS JOIN limits AS k
QUALIFY
    ROW_NUMBER() OVER (
        PARTITION BY c.cohort, c.figure, CEIL(c.time_s / k.page_curve_step_s)
        ORDER BY c.time_s DESC
    ) = 1
ORDER BY c.cohort, c.figure, c.time_s;
