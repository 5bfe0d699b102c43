-- One row is a line of the school's device list as one batch brought it; history is kept.
-- Inputs: none (files under devices/)
-- Grain: device_id, valid_from, batch_id
-- Units: dates
-- Source: devices.csv of the inbox
CREATE OR REPLACE VIEW stored_devices AS
SELECT
    device_id,
    device_class,
    control,
    valid_from,
    row_sha256,
    batch_id
FROM READ_PARQUET('devices/*.parquet');
