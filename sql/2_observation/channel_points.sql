-- One row is a value of one channel at one time, with its neighbours in time in the same session; a slower channel's blank cells are no rows.
-- Inputs: stored_samples, heading_points, vertical_speed_points
-- Grain: channel, session_id, revision, t_ms
-- Units: times in milliseconds from the session's start; value in the channel's unit (ft, deg, kt, fpm, fraction of travel, N)
-- Source: the recorder. The neighbours come from LAG and LEAD over the scan in stored order, which landing wrote by session and
-- time and which measuring guards; across sessions they are null.
CREATE OR REPLACE VIEW channel_points AS
SELECT
    'altitude' AS channel,
    session_id,
    revision,
    t_ms,
    CAST(altitude_ft AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(altitude_ft) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE altitude_ft IS NOT NULL
UNION ALL
SELECT
    'airspeed' AS channel,
    session_id,
    revision,
    t_ms,
    CAST(airspeed_kt AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(airspeed_kt) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE airspeed_kt IS NOT NULL
UNION ALL
SELECT
    'pitch_control' AS channel,
    session_id,
    revision,
    t_ms,
    CAST(pitch_control AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(pitch_control) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE pitch_control IS NOT NULL
UNION ALL
SELECT
    'roll_control' AS channel,
    session_id,
    revision,
    t_ms,
    CAST(roll_control AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(roll_control) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE roll_control IS NOT NULL
UNION ALL
SELECT
    'pitch_force' AS channel,
    session_id,
    revision,
    t_ms,
    CAST(pitch_force AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(pitch_force) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE pitch_force IS NOT NULL
UNION ALL
SELECT
    'bank' AS channel,
    session_id,
    revision,
    t_ms,
    CAST(bank_deg AS DOUBLE) AS value,
    CASE WHEN LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision THEN LAG(t_ms) OVER () END AS previous_ms,
    CAST(LAG(bank_deg) OVER () AS DOUBLE) AS previous_value,
    CASE WHEN LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision THEN LEAD(t_ms) OVER () END AS next_ms
FROM stored_samples
WHERE bank_deg IS NOT NULL
UNION ALL
SELECT
    'heading' AS channel,
    session_id,
    revision,
    t_ms,
    value,
    previous_ms,
    previous_value,
    next_ms
FROM heading_points
UNION ALL
SELECT
    'vertical_speed' AS channel,
    session_id,
    revision,
    t_ms,
    value,
    previous_ms,
    previous_value,
    next_ms
FROM vertical_speed_points;
