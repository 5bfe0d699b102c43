-- One row is something that points at a device: figures wider or narrower on it than elsewhere, or a check of the device that it does not pass.
-- Inputs: device_notes, page_device_health
-- Grain: device_id, device_check, sentence
-- Units: none; figures stand in the sentence
-- Source: device_notes and the rows of page_device_health that are not well
CREATE OR REPLACE VIEW page_suspect_devices AS
SELECT
    device_id,
    aspect || ' figures' AS device_check,
    note AS sentence
FROM device_notes
UNION ALL
SELECT
    device_id,
    device_check,
    sentence
FROM page_device_health
WHERE NOT is_well
ORDER BY ALL;
