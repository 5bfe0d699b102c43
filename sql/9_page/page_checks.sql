-- One row is what a data check found, and in how many sessions.
-- Inputs: session_gates, sessions
-- Grain: gate, channel, severity
-- Units: session_count in sessions; latest_date is a session date
-- Source: session_gates, counted; example is the finding of the latest of these sessions
CREATE OR REPLACE VIEW page_checks AS
SELECT
    g.gate,
    g.channel,
    g.severity,
    COUNT(DISTINCT g.session_id) AS session_count,
    MAX(s.session_date) AS latest_date,
    ARG_MAX(g.session_id || ': ' || g.detail, (s.session_date, g.session_id)) AS example
FROM session_gates AS g
INNER JOIN sessions AS s ON g.session_id = s.session_id
GROUP BY g.gate, g.channel, g.severity
ORDER BY session_count DESC, g.gate, g.channel;
