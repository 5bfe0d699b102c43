-- One row is what a data check found on a device, and in how many sessions.
-- Inputs: session_gates, sessions
-- Grain: device_id, gate, channel, severity
-- Units: session_count in sessions; latest_date is a session date
-- Source: session_gates, counted
CREATE OR REPLACE VIEW page_device_checks AS
SELECT
    COALESCE(s.device_id, '(not named)') AS device_id,
    g.gate,
    g.channel,
    g.severity,
    COUNT(DISTINCT g.session_id) AS session_count,
    MAX(s.session_date) AS latest_date
FROM session_gates AS g
INNER JOIN sessions AS s ON g.session_id = s.session_id
GROUP BY COALESCE(s.device_id, '(not named)'), g.gate, g.channel, g.severity
ORDER BY device_id, session_count DESC, g.gate, g.channel;
