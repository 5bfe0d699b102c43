-- One row is a cohort and the device class that it has flown most up to the date asked for.
-- Inputs: session_figures
-- Grain: cohort
-- Units: session_count in sessions
-- Source: ours. Simulator and aeroplane are never pooled; what is told of a cohort in one line is told of this class.
CREATE OR REPLACE VIEW cohort_classes AS
SELECT
    cohort,
    device_class,
    COUNT(DISTINCT session_id) AS session_count
FROM session_figures
WHERE level_count > 0
GROUP BY cohort, device_class
QUALIFY ROW_NUMBER() OVER (PARTITION BY cohort ORDER BY COUNT(DISTINCT session_id) DESC, device_class DESC) = 1;
