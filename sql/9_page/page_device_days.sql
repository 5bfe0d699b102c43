-- One row is a device on a day it was flown and where its pitch control rests, as the devices page draws it.
-- Inputs: device_neutrals, as_of, limits
-- Grain: device_id, session_date
-- Units: fractions of travel, positive toward a pull; neutral_low to neutral_high is one standard error down and up
-- Source: device_neutrals, unchanged; weeks older than page_weeks_maximum are left off
CREATE OR REPLACE VIEW page_device_days AS
SELECT
    n.device_id,
    n.session_date,
    n.pitch_neutral,
    n.neutral_se,
    n.pitch_neutral - n.neutral_se AS neutral_low,
    n.pitch_neutral + n.neutral_se AS neutral_high,
    n.student_count,
    n.neutral_reason
FROM device_neutrals AS n
CROSS JOIN as_of AS d
CROSS JOIN limits AS k
WHERE n.session_date <= d.as_of_date AND DATE_DIFF('day', n.session_date, d.as_of_date) < 7 * k.page_weeks_maximum
ORDER BY n.device_id, n.session_date;
