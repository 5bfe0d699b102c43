-- One row is a student's week in one aspect, class of device, standard and basis: what the student adds to a cell. A TABLE: read several times.
-- Inputs: shared_sessions
-- Grain: aspect, device_class, standard_id, basis, student_id, week_no
-- Units: ln_ratio is the natural logarithm of tolerance_ratio, 1 is the edge of the standard; session_count and maneuver_count are counts
-- Source: the geometric mean of the student's sessions of that week, so that a student counts once a week however often the student flew; is_met:
-- that mean is within the standard. contribution_id is two digests of 16 digits: of the sessions that the row rests on, and of all that it tells: another figure has
-- another second half, while the first stays the same whatever the settings make of the sessions.
CREATE OR REPLACE TABLE shared_weeks AS
WITH weeks AS (
    SELECT
        aspect,
        device_class,
        standard_id,
        basis,
        student_id,
        cohort,
        week_no,
        AVG(ln_ratio ORDER BY session_id) AS ln_ratio,
        COUNT(*) AS session_count,
        CAST(SUM(maneuver_count) AS BIGINT) AS maneuver_count,
        STRING_AGG(session_id, ',' ORDER BY session_id) AS sessions_flown,
        STRING_AGG(session_id || ' ' || ROUND(ln_ratio, 6), ',' ORDER BY session_id) AS sessions_told
    FROM shared_sessions
    GROUP BY aspect, device_class, standard_id, basis, student_id, cohort, week_no
)

SELECT
    aspect,
    device_class,
    standard_id,
    basis,
    student_id,
    cohort,
    week_no,
    ln_ratio,
    ROUND(EXP(ln_ratio), 6) AS tolerance_ratio,
    ln_ratio <= 0 AS is_met,
    session_count,
    maneuver_count,
    LEFT(SHA256(CONCAT_WS('|', aspect, device_class, student_id, sessions_flown)), 16)
    || LEFT(SHA256(CONCAT_WS('|', aspect, device_class, standard_id, basis, student_id, cohort, week_no, sessions_told)), 16) AS contribution_id
FROM weeks;
