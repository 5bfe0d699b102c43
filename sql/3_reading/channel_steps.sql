-- One row is a channel of a session and how finely it was recorded. A TABLE: read once and kept.
-- Inputs: stored_samples
-- Grain: session_id, revision, channel
-- Units: resolution in the channel's unit: the smallest change between neighbouring samples; null where it never changed
-- Kept: one file beside each samples file
-- Source: the recorder
CREATE OR REPLACE TABLE channel_steps AS
WITH changes AS (
    SELECT
        session_id,
        revision,
        LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision AS is_next,
        ABS(altitude_ft - LAG(altitude_ft) OVER ()) AS altitude,
        ABS(heading_deg - LAG(heading_deg) OVER ()) AS heading,
        ABS(vertical_speed_fpm - LAG(vertical_speed_fpm) OVER ()) AS vertical_speed,
        ABS(airspeed_kt - LAG(airspeed_kt) OVER ()) AS airspeed,
        ABS(pitch_deg - LAG(pitch_deg) OVER ()) AS pitch,
        ABS(bank_deg - LAG(bank_deg) OVER ()) AS bank,
        ABS(pitch_control - LAG(pitch_control) OVER ()) AS pitch_control,
        ABS(roll_control - LAG(roll_control) OVER ()) AS roll_control,
        ABS(pitch_trim - LAG(pitch_trim) OVER ()) AS pitch_trim,
        ABS(power - LAG(power) OVER ()) AS power
    FROM stored_samples
),

smallest AS (
    SELECT
        session_id,
        revision,
        MIN(NULLIF(altitude, 0)) AS altitude,
        MIN(NULLIF(heading, 0)) AS heading,
        MIN(NULLIF(vertical_speed, 0)) AS vertical_speed,
        MIN(NULLIF(airspeed, 0)) AS airspeed,
        MIN(NULLIF(pitch, 0)) AS pitch,
        MIN(NULLIF(bank, 0)) AS bank,
        MIN(NULLIF(pitch_control, 0)) AS pitch_control,
        MIN(NULLIF(roll_control, 0)) AS roll_control,
        MIN(NULLIF(pitch_trim, 0)) AS pitch_trim,
        MIN(NULLIF(power, 0)) AS power
    FROM changes
    WHERE is_next
    GROUP BY session_id, revision
),

long AS (
    SELECT *
    FROM smallest
    UNPIVOT (
        resolution FOR channel IN (
            altitude, heading, vertical_speed, airspeed, pitch, bank, pitch_control, roll_control, pitch_trim, power
        )
    )
)

SELECT
    session_id,
    revision,
    channel,
    ROUND(CAST(resolution AS DOUBLE), 4) AS resolution
FROM long
ORDER BY session_id, revision, channel;
