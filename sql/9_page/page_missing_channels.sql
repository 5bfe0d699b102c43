-- One row is a channel that some figure needs and that some session did not record.
-- Inputs: sessions
-- Grain: channel
-- Units: counts in sessions
-- Source: the channels that each session's log held; without one, the figures that need it are empty
CREATE OR REPLACE VIEW page_missing_channels AS
SELECT
    c.channel,
    COUNT(*) FILTER (WHERE NOT LIST_CONTAINS(s.channels, c.channel)) AS session_count,
    COUNT(*) AS all_sessions
FROM sessions AS s
CROSS JOIN (
    VALUES ('airspeed_kt'), ('bank_deg'), ('pitch_control'), ('pitch_trim'), ('power'), ('vertical_speed_fpm')
) AS c (channel)
GROUP BY c.channel
HAVING COUNT(*) FILTER (WHERE NOT LIST_CONTAINS(s.channels, c.channel)) > 0
ORDER BY c.channel;
