-- One row is something that points at a device: figures wider on it than elsewhere, a control that rests off centre, a check that failed again.
-- Inputs: device_notes, page_device_days, page_device_checks, limits
-- Grain: device_id, kind, sentence
-- Units: none; figures stand in the sentence
-- Source: device_notes; the latest neutral beyond untrimmed_limit; checks of severity suspect or not_scored in more than one session
CREATE OR REPLACE VIEW page_suspect_devices AS
WITH latest_neutrals AS (
    SELECT
        device_id,
        pitch_neutral,
        session_date
    FROM page_device_days
    QUALIFY ROW_NUMBER() OVER (PARTITION BY device_id ORDER BY session_date DESC) = 1
)

SELECT
    device_id,
    'figures' AS kind,
    note AS sentence
FROM device_notes
UNION ALL
SELECT
    n.device_id,
    'neutral' AS kind,
    FORMAT(
        '{}: the pitch control rests at {:+.3f} of travel, off centre by more than {:.2f}; held control is counted from there',
        n.device_id, n.pitch_neutral, k.untrimmed_limit
    ) AS sentence
FROM latest_neutrals AS n
CROSS JOIN limits AS k
WHERE ABS(n.pitch_neutral) > k.untrimmed_limit
UNION ALL
SELECT
    device_id,
    'check' AS kind,
    FORMAT('{}: {} ({}) in {:d} sessions, last on {}', device_id, gate, COALESCE(channel, 'the whole log'), session_count, latest_date) AS sentence
FROM page_device_checks
WHERE severity IN ('suspect', 'not_scored') AND session_count > 1
ORDER BY ALL;
