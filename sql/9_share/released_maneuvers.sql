-- One row is a maneuver of a release with its figures side by side, under the codes of student, session and device. A TABLE: read twice.
-- Inputs: coded_maneuvers, altitude_hold, heading_hold, airspeed_hold, steadiness, held_control, excursions, maneuver_scores, coded_reasons
-- Grain: maneuver_code
-- Units: each column's name ends in its unit; ratios: 1 is the edge of the standard; in_tolerance as a fraction of observed time; session_s is time from the session's start
-- Source: the relations of the same columns. Largest errors are left out. A figure that is null has its reason as a code beside it; ratios and
-- shares of time are null too where the standard is masked, which they would tell. Rounded to what a figure can mean, so that digits are no fingerprint.
CREATE OR REPLACE TABLE released_maneuvers AS
WITH kept_in AS (
    SELECT
        x.maneuver_id,
        MAX(x.in_tolerance) FILTER (WHERE x.channel = 'altitude') AS altitude_in_tolerance,
        MAX(x.in_tolerance) FILTER (WHERE x.channel = 'heading') AS heading_in_tolerance,
        MAX(x.excursions) FILTER (WHERE x.channel = 'altitude') AS altitude_excursions,
        MAX(x.excursions) FILTER (WHERE x.channel = 'heading') AS heading_excursions
    FROM excursions AS x
    INNER JOIN coded_maneuvers AS m ON x.maneuver_id = m.maneuver_id AND x.standard_id = m.held_standard_id
    WHERE NOT m.is_standard_masked
    GROUP BY x.maneuver_id
),

ratios AS (
    SELECT
        c.maneuver_id,
        MAX(c.tolerance_ratio) FILTER (WHERE c.aspect = 'altitude' AND NOT m.is_standard_masked) AS altitude_ratio,
        MAX(c.tolerance_ratio) FILTER (WHERE c.aspect = 'heading' AND NOT m.is_standard_masked) AS heading_ratio,
        MAX(c.tolerance_ratio) FILTER (WHERE c.aspect = 'trim') AS trim_ratio
    FROM maneuver_scores AS c
    INNER JOIN coded_maneuvers AS m ON c.maneuver_id = m.maneuver_id
    GROUP BY c.maneuver_id
)

SELECT
    m.maneuver_code,
    m.session_code,
    m.student_code,
    m.cohort,
    m.standard_id,
    m.device_class,
    m.device_code,
    m.air,
    m.week_no,
    m.is_week_masked,
    m.kind,
    m.basis,
    ROUND(m.start_s, 0) AS start_s,
    ROUND(m.end_s, 0) AS end_s,
    m.flown_by,
    ROUND(m.observed_s, 0) AS observed_s,
    m.is_scored,
    n.missing_code AS not_scored_code,
    ROUND(a.altitude_bias_ft, 1) AS altitude_bias_ft,
    ROUND(a.altitude_sd_ft, 1) AS altitude_sd_ft,
    ROUND(a.altitude_rmse_ft, 1) AS altitude_rmse_ft,
    ROUND(a.altitude_mae_ft, 1) AS altitude_mae_ft,
    ROUND(a.altitude_hold95_ft, 1) AS altitude_hold95_ft,
    ROUND(a.altitude_drift_ft_per_min, 1) AS altitude_drift_ft_per_min,
    na.missing_code AS altitude_hold_code,
    ROUND(h.heading_bias_deg, 2) AS heading_bias_deg,
    ROUND(h.heading_sd_deg, 2) AS heading_sd_deg,
    ROUND(h.heading_rmse_deg, 2) AS heading_rmse_deg,
    ROUND(h.heading_mae_deg, 2) AS heading_mae_deg,
    ROUND(h.heading_hold95_deg, 2) AS heading_hold95_deg,
    ROUND(h.heading_drift_deg_per_min, 2) AS heading_drift_deg_per_min,
    nh.missing_code AS heading_hold_code,
    ROUND(v.airspeed_sd_kt, 1) AS airspeed_sd_kt,
    ROUND(v.airspeed_hold95_kt, 1) AS airspeed_hold95_kt,
    ROUND(v.airspeed_drift_kt_per_min, 1) AS airspeed_drift_kt_per_min,
    nv.missing_code AS airspeed_hold_code,
    ROUND(g.vertical_speed_rms_fpm, 0) AS vertical_speed_rms_fpm,
    ROUND(g.near_zero_vs, 3) AS near_zero_vs,
    ROUND(g.control_reversals_per_min, 2) AS control_reversals_per_min,
    ROUND(g.control_sd, 4) AS control_sd,
    g.trim_inputs,
    g.trim_reversals,
    g.is_vertical_speed_derived,
    ng.missing_code AS steadiness_code,
    ROUND(c.held_control, 4) AS held_control,
    ROUND(c.held_force_n, 1) AS held_force_n,
    c.is_untrimmed,
    nc.missing_code AS held_control_code,
    ROUND(k.altitude_in_tolerance, 3) AS altitude_in_tolerance,
    ROUND(k.heading_in_tolerance, 3) AS heading_in_tolerance,
    k.altitude_excursions,
    k.heading_excursions,
    ROUND(r.altitude_ratio, 3) AS altitude_ratio,
    ROUND(r.heading_ratio, 3) AS heading_ratio,
    ROUND(r.trim_ratio, 3) AS trim_ratio
FROM coded_maneuvers AS m
LEFT JOIN altitude_hold AS a ON m.maneuver_id = a.maneuver_id
LEFT JOIN heading_hold AS h ON m.maneuver_id = h.maneuver_id
LEFT JOIN airspeed_hold AS v ON m.maneuver_id = v.maneuver_id
LEFT JOIN steadiness AS g ON m.maneuver_id = g.maneuver_id
LEFT JOIN held_control AS c ON m.maneuver_id = c.maneuver_id
LEFT JOIN kept_in AS k ON m.maneuver_id = k.maneuver_id
LEFT JOIN ratios AS r ON m.maneuver_id = r.maneuver_id
LEFT JOIN coded_reasons AS n ON m.not_scored_reason = n.reason
LEFT JOIN coded_reasons AS na ON a.altitude_hold_reason = na.reason
LEFT JOIN coded_reasons AS nh ON h.heading_hold_reason = nh.reason
LEFT JOIN coded_reasons AS nv ON v.airspeed_hold_reason = nv.reason
LEFT JOIN coded_reasons AS ng ON g.steadiness_reason = ng.reason
LEFT JOIN coded_reasons AS nc ON c.held_control_reason = nc.reason;
