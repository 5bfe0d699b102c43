-- One row is a climb, descent or level-off of a session that counts: how its altitude was captured.
-- Inputs: maneuvers, capture_readings, limits
-- Grain: maneuver_id
-- Units: entry_rate_fpm in ft/min, positive up; lead_ft and overshoot_ft in feet; lead_share in feet per ft/min; _s in seconds from the maneuver's start
-- Source: capture_readings. lead_share is the lead as a share of the rate: a tenth is the handbook's (FAA Instrument Flying Handbook); negative where the rate was
-- broken only beyond the target. Not captured before the end is censored (is_captured false, capture_s null) at followed_s, never dropped.
CREATE OR REPLACE VIEW capture_figures AS
SELECT
    m.maneuver_id,
    m.kind,
    ROUND(r.entry_rate_fpm, 6) AS entry_rate_fpm,
    ROUND(r.lead_ft, 6) AS lead_ft,
    ROUND(r.lead_ft / NULLIF(ABS(r.entry_rate_fpm), 0), 6) AS lead_share,
    ROUND(r.overshoot_ft, 6) AS overshoot_ft,
    ROUND(r.capture_s, 6) AS capture_s,
    CASE
        WHEN r.capture_s IS NOT NULL THEN TRUE
        WHEN r.has_error AND (m.kind <> 'level_off' OR r.entry_rate_fpm IS NOT NULL) THEN FALSE
    END AS is_captured,
    CASE
        WHEN is_captured IS NOT NULL
            THEN GREATEST(m.end_s - m.start_s - CASE WHEN m.kind = 'level_off' THEN l.capture_hold_s ELSE 0 END, 0)
    END AS followed_s,
    CASE
        WHEN r.maneuver_id IS NULL THEN 'no altitude observed'
        WHEN m.target_altitude_ft IS NULL THEN 'no target altitude'
        WHEN NOT r.has_error THEN 'no altitude observed'
        WHEN r.entry_rate_fpm IS NULL THEN 'vertical speed not logged, altitude too coarse to derive it'
    END AS capture_reason
FROM maneuvers AS m
CROSS JOIN limits AS l
LEFT JOIN capture_readings AS r ON m.maneuver_id = r.maneuver_id
WHERE m.kind IN ('level_off', 'climb', 'descent');
