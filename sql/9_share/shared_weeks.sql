-- One row is a student's week in one aspect, class of device and standard: what the student adds to a cell. A TABLE: read several times.
-- Inputs: shared_sessions
-- Grain: aspect, device_class, standard_id, student_id, week_no
-- Units: tolerance_ratio: 1 is the edge of the standard; session_count and maneuver_count are counts
-- Source: the median of the student's sessions of that week, so that a student counts once a week however often the student flew; is_met: that
-- median is within the standard. contribution_id is a digest of all that the row rests on: another figure has another digest.
CREATE OR REPLACE TABLE shared_weeks AS
SELECT
    aspect,
    device_class,
    standard_id,
    student_id,
    cohort,
    week_no,
    ROUND(MEDIAN(tolerance_ratio), 6) AS tolerance_ratio,
    ROUND(MEDIAN(tolerance_ratio), 6) <= 1 AS is_met,
    COUNT(*) AS session_count,
    SUM(maneuver_count)::BIGINT AS maneuver_count,
    LEFT(
        SHA256(
            CONCAT_WS(
                '|', aspect, device_class, standard_id, student_id, cohort, week_no,
                STRING_AGG(session_id || ' ' || ROUND(tolerance_ratio, 6), ',' ORDER BY session_id)
            )
        ),
        16
    ) AS contribution_id
FROM shared_sessions
GROUP BY aspect, device_class, standard_id, student_id, cohort, week_no;
