-- One row is a landed session, every revision, and how the pitch control of its device behaved on that day.
-- Inputs: stored_sessions, devices
-- Grain: session_id, revision
-- Units: none
-- Source: the device list as it held on the session's date: centring or free; a device not listed by then counts as centring
CREATE OR REPLACE VIEW session_controls AS
SELECT
    s.session_id,
    s.revision,
    COALESCE(ARG_MAX(d.control, COALESCE(d.valid_from, DATE '1900-01-01')), 'centring') AS control
FROM stored_sessions AS s
LEFT JOIN devices AS d ON s.device_id = d.device_id AND s.session_date >= COALESCE(d.valid_from, DATE '1900-01-01')
GROUP BY s.session_id, s.revision;
