-- One row is a reason that some maneuver gives for a missing figure, and its code. A TABLE: read many times.
-- Inputs: missing_codes, maneuvers, altitude_hold, heading_hold, airspeed_hold, steadiness, held_control, trim_settling, maneuver_scores
-- Grain: reason
-- Units: none
-- Source: missing_codes; the lowest code_no that fits
CREATE OR REPLACE TABLE coded_reasons AS
WITH reasons AS (
    SELECT not_scored_reason AS reason FROM maneuvers
    UNION
    SELECT altitude_hold_reason FROM altitude_hold
    UNION
    SELECT heading_hold_reason FROM heading_hold
    UNION
    SELECT airspeed_hold_reason FROM airspeed_hold
    UNION
    SELECT steadiness_reason FROM steadiness
    UNION
    SELECT held_control_reason FROM held_control
    UNION
    SELECT settling_reason FROM trim_settling
    UNION
    SELECT score_reason FROM maneuver_scores
)

SELECT
    r.reason,
    ARG_MIN(c.missing_code, c.code_no) AS missing_code
FROM reasons AS r
INNER JOIN missing_codes AS c ON r.reason LIKE c.reason_pattern
GROUP BY r.reason;
