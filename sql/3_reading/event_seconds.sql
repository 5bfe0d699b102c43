-- One row is one second of a turn, level-off, climb or descent, and of the time just before and after it: the means of its samples.
-- A TABLE: two readings are made from it.
-- Inputs: event_samples, derived_speeds
-- Grain: maneuver_id, second_no
-- Units: second_no in whole seconds from the session's start; each mean in the unit of its name; heading_deg unwrapped along time
-- Source: the recorder, and derived_speeds where no vertical speed was logged
CREATE OR REPLACE TABLE event_seconds AS
WITH recorded AS (
    SELECT
        maneuver_id,
        second_no,
        CAST(AVG(altitude_ft) AS DOUBLE) AS altitude_ft,
        AVG(CAST(vertical_speed_fpm AS DOUBLE)) AS vertical_speed_fpm,
        CAST(AVG(bank_deg) AS DOUBLE) AS bank_deg
    FROM event_samples
    GROUP BY maneuver_id, second_no
),

turned AS (
    SELECT
        maneuver_id,
        second_no,
        heading_deg,
        CASE
            WHEN heading_deg - LAG(heading_deg) OVER () <= -180 THEN 1
            WHEN heading_deg - LAG(heading_deg) OVER () > 180 THEN -1
            ELSE 0
        END AS passed_north
    FROM event_samples
    WHERE heading_deg IS NOT NULL
),

unwrapped AS (
    SELECT
        maneuver_id,
        second_no,
        heading_deg + 360 * SUM(passed_north) OVER (ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS heading_deg
    FROM turned
),

headings AS (
    SELECT
        maneuver_id,
        second_no,
        AVG(heading_deg) AS heading_deg
    FROM unwrapped
    GROUP BY maneuver_id, second_no
),

spans AS (
    SELECT DISTINCT
        maneuver_id,
        session_id,
        revision,
        from_ms,
        to_ms
    FROM event_samples
),

speeds AS (
    SELECT
        s.maneuver_id,
        CAST(FLOOR(d.t_ms / 1000) AS INTEGER) AS second_no,
        AVG(d.value) AS vertical_speed_fpm
    FROM derived_speeds AS d
    INNER JOIN spans AS s
        ON d.session_id = s.session_id AND d.revision = s.revision AND d.t_ms >= s.from_ms AND d.t_ms <= s.to_ms
    GROUP BY s.maneuver_id, second_no
)

SELECT
    r.maneuver_id,
    r.second_no,
    r.altitude_ft,
    h.heading_deg,
    COALESCE(r.vertical_speed_fpm, v.vertical_speed_fpm) AS vertical_speed_fpm,
    r.bank_deg
FROM recorded AS r
LEFT JOIN headings AS h ON r.maneuver_id = h.maneuver_id AND r.second_no = h.second_no
LEFT JOIN speeds AS v ON r.maneuver_id = v.maneuver_id AND r.second_no = v.second_no;
