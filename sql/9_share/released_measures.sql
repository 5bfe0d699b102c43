-- One row is one figure of a maneuver of a release: released_maneuvers in long form.
-- Inputs: released_maneuvers
-- Grain: maneuver_code, measure
-- Units: unit names that of the row
-- Source: released_maneuvers, turned; value is null where missing_code says why, and without a code where the standard is masked or the kind of maneuver has no such figure
CREATE OR REPLACE VIEW released_measures AS
WITH listed AS (
    SELECT
        maneuver_code,
        session_code,
        student_code,
        UNNEST(
            [
                { 'measure': 'altitude_bias_ft', 'unit': 'ft', 'value': altitude_bias_ft, 'missing_code': altitude_hold_code },
                { 'measure': 'altitude_sd_ft', 'unit': 'ft', 'value': altitude_sd_ft, 'missing_code': altitude_hold_code },
                { 'measure': 'altitude_rmse_ft', 'unit': 'ft', 'value': altitude_rmse_ft, 'missing_code': altitude_hold_code },
                { 'measure': 'altitude_mae_ft', 'unit': 'ft', 'value': altitude_mae_ft, 'missing_code': altitude_hold_code },
                { 'measure': 'altitude_hold95_ft', 'unit': 'ft', 'value': altitude_hold95_ft, 'missing_code': altitude_hold_code },
                { 'measure': 'altitude_drift_ft_per_min', 'unit': 'ft/min', 'value': altitude_drift_ft_per_min, 'missing_code': altitude_hold_code },
                { 'measure': 'heading_bias_deg', 'unit': 'deg', 'value': heading_bias_deg, 'missing_code': heading_hold_code },
                { 'measure': 'heading_sd_deg', 'unit': 'deg', 'value': heading_sd_deg, 'missing_code': heading_hold_code },
                { 'measure': 'heading_rmse_deg', 'unit': 'deg', 'value': heading_rmse_deg, 'missing_code': heading_hold_code },
                { 'measure': 'heading_mae_deg', 'unit': 'deg', 'value': heading_mae_deg, 'missing_code': heading_hold_code },
                { 'measure': 'heading_hold95_deg', 'unit': 'deg', 'value': heading_hold95_deg, 'missing_code': heading_hold_code },
                { 'measure': 'heading_drift_deg_per_min', 'unit': 'deg/min', 'value': heading_drift_deg_per_min, 'missing_code': heading_hold_code },
                { 'measure': 'airspeed_sd_kt', 'unit': 'kt', 'value': airspeed_sd_kt, 'missing_code': airspeed_hold_code },
                { 'measure': 'airspeed_hold95_kt', 'unit': 'kt', 'value': airspeed_hold95_kt, 'missing_code': airspeed_hold_code },
                { 'measure': 'airspeed_drift_kt_per_min', 'unit': 'kt/min', 'value': airspeed_drift_kt_per_min, 'missing_code': airspeed_hold_code },
                { 'measure': 'vertical_speed_rms_fpm', 'unit': 'ft/min', 'value': vertical_speed_rms_fpm, 'missing_code': steadiness_code },
                { 'measure': 'near_zero_vs', 'unit': 'fraction', 'value': near_zero_vs, 'missing_code': steadiness_code },
                { 'measure': 'control_reversals_per_min', 'unit': '1/min', 'value': control_reversals_per_min, 'missing_code': steadiness_code },
                { 'measure': 'control_sd', 'unit': 'fraction of travel', 'value': control_sd, 'missing_code': steadiness_code },
                { 'measure': 'trim_inputs', 'unit': 'count', 'value': CAST(trim_inputs AS DOUBLE), 'missing_code': steadiness_code },
                { 'measure': 'trim_reversals', 'unit': 'count', 'value': CAST(trim_reversals AS DOUBLE), 'missing_code': steadiness_code },
                { 'measure': 'held_control', 'unit': 'fraction of travel', 'value': held_control, 'missing_code': held_control_code },
                { 'measure': 'held_force_n', 'unit': 'N', 'value': held_force_n, 'missing_code': held_control_code },
                { 'measure': 'altitude_in_tolerance', 'unit': 'fraction', 'value': altitude_in_tolerance, 'missing_code': altitude_hold_code },
                { 'measure': 'heading_in_tolerance', 'unit': 'fraction', 'value': heading_in_tolerance, 'missing_code': heading_hold_code },
                { 'measure': 'altitude_ratio', 'unit': 'ratio', 'value': altitude_ratio, 'missing_code': not_scored_code },
                { 'measure': 'heading_ratio', 'unit': 'ratio', 'value': heading_ratio, 'missing_code': not_scored_code },
                { 'measure': 'trim_ratio', 'unit': 'ratio', 'value': trim_ratio, 'missing_code': not_scored_code }
            ]
        ) AS figure
    FROM released_maneuvers
)

SELECT
    maneuver_code,
    figure.measure AS measure,
    session_code,
    student_code,
    figure.unit AS unit,
    figure.value AS value,
    CASE WHEN figure.value IS NULL THEN figure.missing_code END AS missing_code
FROM listed;
