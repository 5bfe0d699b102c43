-- One row is a check of a device in words: what was looked at, what was found, what is normal, and all of it as one sentence.
-- Inputs: device_health
-- Grain: device_id, device_check
-- Units: figures stand in the words with their units; session_count in sessions
-- Source: device_health, rounded. is_well is NULL, with device_reason, where it cannot be told.
CREATE OR REPLACE VIEW page_device_health AS
WITH parted AS (
    SELECT
        device_id,
        device_check,
        REGEXP_EXTRACT(device_check, '(at rest|stepped|reads off|in steps of|sessions)') AS kind,
        REPLACE(REGEXP_REPLACE(device_check, ' (at rest|stepped|reads off|in steps of)$', ''), '_', ' ') AS part,
        ROUND(value, CASE WHEN unit = 'of travel' THEN 3 ELSE 1 END) + 0.0::DOUBLE AS found,
        bound,
        CASE unit WHEN 'of travel' THEN ' of its travel' WHEN 'deg' THEN '°' ELSE ' ' || unit END AS unit_words,
        is_well,
        since_date,
        session_count,
        device_reason
    FROM device_health
),

worded AS (
    SELECT
        device_id,
        device_check,
        kind,
        part,
        CASE kind
            WHEN 'at rest' THEN 'where the ' || part || ' rests'
            WHEN 'stepped' THEN 'shift of where the ' || part || ' rests'
            WHEN 'reads off' THEN part || ' read in steady level flight'
            WHEN 'in steps of' THEN 'steps in which ' || part || ' is recorded'
            ELSE 'sessions in which a data check doubts a channel'
        END AS check_words,
        CASE
            WHEN found IS NULL THEN 'cannot be told'
            WHEN kind = 'sessions' THEN FORMAT('{:d} of {:d}', CAST(found AS BIGINT), session_count)
            WHEN kind = 'stepped' AND since_date IS NULL THEN 'none seen'
            WHEN kind = 'in steps of' OR found = 0 THEN FORMAT('{:g}', found) || unit_words
            ELSE REPLACE(FORMAT('{:+g}', found), '-', '−') || unit_words
        END || COALESCE(' on ' || STRFTIME(since_date, '%-d %b %Y'), '') AS found_words,
        CASE kind
            WHEN 'sessions' THEN 'none'
            WHEN 'in steps of' THEN FORMAT('up to {:g}', bound) || unit_words
            ELSE FORMAT('up to {:g}', bound) || unit_words || ' either way'
        END AS well_words,
        is_well,
        session_count,
        device_reason
    FROM parted
)

SELECT
    device_id,
    device_check,
    check_words,
    found_words,
    well_words,
    device_id || ': ' || CASE kind
        WHEN 'at rest' THEN 'the ' || part || ' rests at ' || found_words
        WHEN 'stepped' THEN 'where the ' || part || ' rests shifted by ' || found_words
        WHEN 'reads off' THEN part || ' reads ' || found_words || ' in steady level flight'
        WHEN 'in steps of' THEN part || ' is recorded in steps of ' || found_words
        ELSE 'a data check doubts a channel in ' || found_words || CASE session_count WHEN 1 THEN ' session' ELSE ' sessions' END
    END || CASE kind WHEN 'sessions' THEN '; there should be none' ELSE '; ' || well_words || ' is normal' END AS sentence,
    is_well,
    session_count,
    device_reason
FROM worded
ORDER BY device_id, check_words;
