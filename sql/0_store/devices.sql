-- One row is a device from a date on, as the newest device list has it.
-- Inputs: stored_devices
-- Grain: device_id, valid_from
-- Units: dates
-- Source: devices.csv of the inbox, newest line wins; a device never listed is taken as a simulator with a centring stick
CREATE OR REPLACE VIEW devices AS
SELECT
    device_id,
    device_class,
    control,
    valid_from
FROM stored_devices
QUALIFY ROW_NUMBER() OVER (PARTITION BY device_id, valid_from ORDER BY batch_id DESC) = 1;
