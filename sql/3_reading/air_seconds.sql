-- One row is one second of a session, and what air shows in. A TABLE, in order of session and time, so that neighbours are read in stored order.
-- Inputs: stored_samples, stored_sessions
-- Grain: session_id, revision, second_no
-- Units: second_no in whole seconds from the session's start; vertical_speed_fpm, altitude_ft and airspeed_kt in the unit of their names; cause in that of
-- what was logged
-- Source: means of the second's samples. altitude_ft only where no vertical speed was logged; cause is the pitch attitude, where none was
-- logged the pitch control, where none was either 0
CREATE OR REPLACE TABLE air_seconds AS
WITH means AS (
    SELECT
        session_id,
        revision,
        CAST(FLOOR(t_ms / 1000) AS INTEGER) AS second_no,
        CAST(AVG(altitude_ft) AS DOUBLE) AS altitude_ft,
        CAST(AVG(vertical_speed_fpm) AS DOUBLE) AS vertical_speed_fpm,
        CAST(AVG(airspeed_kt) AS DOUBLE) AS airspeed_kt,
        CAST(AVG(pitch_deg) AS DOUBLE) AS pitch_deg,
        CAST(AVG(pitch_control) AS DOUBLE) AS pitch_control
    FROM stored_samples
    GROUP BY session_id, revision, second_no
)

SELECT
    m.session_id,
    m.revision,
    m.second_no,
    m.vertical_speed_fpm,
    CASE WHEN NOT LIST_CONTAINS(s.channels, 'vertical_speed_fpm') THEN m.altitude_ft END AS altitude_ft,
    m.airspeed_kt,
    CASE
        WHEN LIST_CONTAINS(s.channels, 'pitch_deg') THEN m.pitch_deg
        WHEN LIST_CONTAINS(s.channels, 'pitch_control') THEN m.pitch_control
        ELSE 0
    END AS cause
FROM means AS m
INNER JOIN stored_sessions AS s ON m.session_id = s.session_id AND m.revision = s.revision
ORDER BY m.session_id, m.revision, m.second_no;
