-- One row is a channel of a maneuver whose neighbours in time are not those of the samples around it. A TABLE: every reading asks it.
-- Inputs: placed_samples, maneuver_numbers, slow_channels, altitude_steps
-- Grain: maneuver_no, channel
-- Units: none
-- Source: blank cells, a recorder that writes the channel more slowly, vertical speed derived from the altitude, or a heading that passes half a
-- turn from the target (north, where there is no target) and goes on
CREATE OR REPLACE TABLE patchy_channels AS
WITH counts AS (
    SELECT
        maneuver_no,
        COUNT(*) AS samples,
        COUNT(altitude_error_ft) AS altitude,
        COUNT(heading_error_deg) AS heading,
        COUNT(vertical_speed_fpm) AS vertical_speed,
        COUNT(airspeed_kt) AS airspeed,
        COUNT(bank_deg) AS bank,
        COUNT(pitch_control) AS pitch_control,
        COUNT(roll_control) AS roll_control,
        COUNT(pitch_force) AS pitch_force,
        MIN(previous_heading_error_deg) AS lowest_deg,
        MAX(previous_heading_error_deg) AS highest_deg
    FROM placed_samples
    GROUP BY maneuver_no
),

by_channel AS (
    SELECT *
    FROM counts
    UNPIVOT (
        recorded FOR channel IN (altitude, heading, vertical_speed, airspeed, bank, pitch_control, roll_control, pitch_force)
    )
)

SELECT
    maneuver_no,
    channel
FROM by_channel
WHERE recorded > 0 AND recorded < samples
UNION
SELECT
    c.maneuver_no,
    'heading' AS channel
FROM counts AS c
INNER JOIN maneuver_numbers AS n ON c.maneuver_no = n.maneuver_no
WHERE
    CASE
        WHEN n.target_heading_deg IS NULL THEN c.lowest_deg < 0 OR c.highest_deg >= 360
        ELSE c.lowest_deg <= -180 OR c.highest_deg > 180
    END
UNION
SELECT
    n.maneuver_no,
    s.channel
FROM maneuver_numbers AS n
INNER JOIN slow_channels AS s ON n.session_id = s.session_id AND n.revision = s.revision
UNION
SELECT
    n.maneuver_no,
    'vertical_speed' AS channel
FROM maneuver_numbers AS n
INNER JOIN altitude_steps AS a ON n.session_id = a.session_id AND n.revision = a.revision;
