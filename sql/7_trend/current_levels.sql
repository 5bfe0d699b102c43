-- One row is where a student stands in one aspect and stratum at the date asked for: the latest session that counts.
-- A TABLE: flags and lists read it many times.
-- Inputs: student_levels, as_of
-- Grain: student_id, aspect, stratum
-- Units: those of student_levels; days_since counts days to the date asked for
-- Source: student_levels; is_current marks the stratum that the student flew last
CREATE OR REPLACE TABLE current_levels AS
WITH latest AS (
    SELECT *
    FROM student_levels
    QUALIFY ROW_NUMBER() OVER (PARTITION BY student_id, aspect, stratum ORDER BY session_no DESC) = 1
)

SELECT
    l.student_id,
    l.aspect,
    l.stratum,
    l.session_id,
    l.cohort,
    l.device_class,
    l.standard_id,
    l.tolerance,
    l.unit,
    l.session_date,
    DATE_DIFF('day', l.session_date, d.as_of_date) AS days_since,
    ROW_NUMBER() OVER (
        PARTITION BY l.student_id, l.aspect
        ORDER BY l.session_date DESC, l.started_at DESC, l.session_id DESC
    ) = 1 AS is_current,
    l.session_no,
    l.level_ratio,
    l.level_low,
    l.level_high,
    l.level_low95,
    l.level_high95,
    l.level_ratio_adjusted,
    l.p_not_met,
    l.p_not_met_adjusted,
    l.confidence,
    l.state,
    l.trend,
    l.is_flagged,
    l.since_date,
    l.cleared_date,
    l.is_device_doubt,
    l.recent_outside,
    l.recent_sessions,
    l.flown_sessions,
    l.excluded_sessions,
    l.excluded_share
FROM latest AS l
CROSS JOIN as_of AS d
ORDER BY l.student_id, l.aspect, l.stratum;
