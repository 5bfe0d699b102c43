-- One row is what is most plainly wrong in how a student flew one aspect lately, with the figures that say so.
-- A TABLE: flags and pages read it.
-- Inputs: current_levels, evidence_maneuvers, maneuvers, altitude_hold, heading_hold, steadiness, technique, held_control, roll_trim, capture_figures, limits
-- Grain: student_id, aspect, stratum
-- Units: held_control and its mean in fraction of travel, + a pull; shares from 0 to 1; bias, rmse and spread in ft or deg; reversals per minute
-- Source: ours, after common practice. bias_share is how much of the mean squared error is constant error; drift_share how much of the spread is a
-- steady drift (a ramp of length T spreads by slope x T / root 12). A sign is told only where flag_fault_sign_share of the maneuvers agree,
-- a habit (chasing, a heavy wing, trim the wrong way, flying by the trim) where flag_fault_share of the maneuvers or trim inputs show it. Level-offs
-- overshoot where the middle one goes beyond flag_fault_overshoot_ft and beyond the tolerance.
CREATE OR REPLACE TABLE fault_signs AS
WITH flown AS (
    SELECT
        e.student_id,
        e.aspect,
        e.stratum,
        e.maneuver_id,
        e.tolerance_ratio,
        m.observed_s / 60 AS minutes,
        ABS(((m.target_heading_deg + 180) % 360) - 180) AS from_north_deg,
        CASE e.aspect WHEN 'altitude' THEN a.altitude_bias_ft WHEN 'heading' THEN h.heading_bias_deg END AS bias,
        CASE e.aspect WHEN 'altitude' THEN a.altitude_sd_ft WHEN 'heading' THEN h.heading_sd_deg END AS spread,
        CASE e.aspect WHEN 'altitude' THEN a.altitude_rmse_ft WHEN 'heading' THEN h.heading_rmse_deg END AS rmse,
        CASE e.aspect WHEN 'altitude' THEN a.altitude_drift_ft_per_min WHEN 'heading' THEN h.heading_drift_deg_per_min END AS drift_per_min,
        s.control_reversals_per_min,
        s.near_zero_vs,
        t.is_chasing,
        t.trims,
        t.trims_wrong,
        t.trims_unsteady,
        r.heavy_wing,
        c.held_control
    FROM evidence_maneuvers AS e
    INNER JOIN maneuvers AS m ON e.maneuver_id = m.maneuver_id
    LEFT JOIN altitude_hold AS a ON e.maneuver_id = a.maneuver_id
    LEFT JOIN heading_hold AS h ON e.maneuver_id = h.maneuver_id
    LEFT JOIN steadiness AS s ON e.maneuver_id = s.maneuver_id
    LEFT JOIN technique AS t ON e.maneuver_id = t.maneuver_id
    LEFT JOIN roll_trim AS r ON e.maneuver_id = r.maneuver_id
    LEFT JOIN held_control AS c ON e.maneuver_id = c.maneuver_id
),

level_offs AS (
    SELECT
        e.student_id,
        e.aspect,
        e.stratum,
        COUNT(c.overshoot_ft) AS level_off_count,
        MEDIAN(c.overshoot_ft) AS overshoot_ft
    FROM (SELECT DISTINCT student_id, aspect, stratum, session_id FROM evidence_maneuvers) AS e
    INNER JOIN maneuvers AS m ON e.session_id = m.session_id
    INNER JOIN capture_figures AS c ON m.maneuver_id = c.maneuver_id
    WHERE m.kind = 'level_off' AND COALESCE(m.flown_by, 'student') = 'student'
    GROUP BY e.student_id, e.aspect, e.stratum
),

summed AS (
    SELECT
        f.student_id,
        f.aspect,
        f.stratum,
        COUNT(*) AS maneuver_count,
        AVG(f.bias ORDER BY f.maneuver_id) AS bias_mean,
        SUM(f.bias * f.bias ORDER BY f.maneuver_id) / NULLIF(SUM(f.rmse * f.rmse ORDER BY f.maneuver_id), 0) AS bias_share,
        GREATEST(COUNT(*) FILTER (WHERE f.bias > 0), COUNT(*) FILTER (WHERE f.bias < 0)) / NULLIF(CAST(COUNT(f.bias) AS DOUBLE), 0) AS bias_sign_share,
        SQRT(SUM(f.spread * f.spread ORDER BY f.maneuver_id) / NULLIF(COUNT(f.spread), 0)) AS spread,
        MEDIAN(f.drift_per_min) AS drift_per_min,
        SUM(POWER(f.drift_per_min * f.minutes, 2) / 12 ORDER BY f.maneuver_id)
        / NULLIF(SUM(f.spread * f.spread ORDER BY f.maneuver_id), 0) AS drift_share,
        GREATEST(COUNT(*) FILTER (WHERE f.drift_per_min > 0), COUNT(*) FILTER (WHERE f.drift_per_min < 0))
        / NULLIF(CAST(COUNT(f.drift_per_min) AS DOUBLE), 0) AS drift_sign_share,
        MEDIAN(f.control_reversals_per_min) AS reversals_per_min,
        MEDIAN(f.near_zero_vs) AS near_zero_vs,
        COUNT(*) FILTER (WHERE f.is_chasing) / NULLIF(CAST(COUNT(f.is_chasing) AS DOUBLE), 0) AS chasing_share,
        SUM(f.trims) AS trims,
        SUM(f.trims_wrong) / NULLIF(CAST(SUM(f.trims) AS DOUBLE), 0) AS wrong_share,
        SUM(f.trims_unsteady) / NULLIF(CAST(SUM(f.trims) AS DOUBLE), 0) AS unsteady_share,
        COUNT(*) FILTER (WHERE f.heavy_wing = 'right') AS heavy_right,
        COUNT(*) FILTER (WHERE f.heavy_wing = 'left') AS heavy_left,
        AVG(f.held_control ORDER BY f.maneuver_id) AS held_mean,
        AVG(ABS(f.held_control) ORDER BY f.maneuver_id) / MAX(k.untrimmed_limit) AS held_ratio,
        GREATEST(COUNT(*) FILTER (WHERE f.held_control > 0), COUNT(*) FILTER (WHERE f.held_control < 0))
        / NULLIF(CAST(COUNT(f.held_control) AS DOUBLE), 0) AS held_sign_share,
        COUNT(*) FILTER (WHERE f.from_north_deg <= k.flag_fault_north_deg) AS north_count,
        COUNT(*) FILTER (WHERE f.from_north_deg > k.flag_fault_north_deg) AS elsewhere_count,
        MEDIAN(f.tolerance_ratio) FILTER (WHERE f.from_north_deg <= k.flag_fault_north_deg) AS north_ratio,
        MEDIAN(f.tolerance_ratio) FILTER (WHERE f.from_north_deg > k.flag_fault_north_deg) AS elsewhere_ratio
    FROM flown AS f
    CROSS JOIN limits AS k
    GROUP BY f.student_id, f.aspect, f.stratum
),

signs AS (
    SELECT
        s.student_id,
        s.aspect,
        s.stratum,
        s.maneuver_count,
        s.bias_mean,
        s.bias_share,
        s.spread,
        s.drift_per_min,
        s.drift_share,
        s.reversals_per_min,
        s.near_zero_vs,
        s.held_mean,
        s.held_ratio,
        s.north_count,
        s.north_ratio,
        s.elsewhere_ratio,
        COALESCE(s.held_ratio > 1, FALSE) AS is_held,
        COALESCE(s.held_sign_share >= k.flag_fault_sign_share, FALSE) AS is_held_one_way,
        s.heavy_right,
        s.heavy_left,
        s.wrong_share,
        s.unsteady_share,
        o.overshoot_ft,
        o.level_off_count,
        COALESCE(s.chasing_share >= k.flag_fault_share, FALSE) AS is_chasing,
        COALESCE(s.wrong_share >= k.flag_fault_share AND s.trims >= k.flag_fault_trims, FALSE) AS is_wrong_way,
        COALESCE(s.unsteady_share >= k.flag_fault_share AND s.trims >= k.flag_fault_trims, FALSE) AS is_by_trim,
        GREATEST(s.heavy_right, s.heavy_left) >= k.flag_fault_share * s.maneuver_count AS is_wing_heavy,
        COALESCE(
            o.overshoot_ft >= GREATEST(k.flag_fault_overshoot_ft, c.tolerance)
            AND o.level_off_count >= k.flag_fault_level_offs
            AND s.aspect = 'altitude', FALSE
        ) AS is_overshooting,
        COALESCE(s.bias_share >= k.flag_fault_bias_share AND s.bias_sign_share >= k.flag_fault_sign_share, FALSE) AS is_off_one_way,
        COALESCE(s.bias_share >= k.flag_fault_bias_share, FALSE) AS is_off,
        COALESCE(s.drift_share >= k.flag_fault_drift_share AND s.drift_sign_share >= k.flag_fault_sign_share, FALSE) AS is_drifting_one_way,
        COALESCE(s.drift_share >= k.flag_fault_drift_share, FALSE) AS is_drifting,
        COALESCE(
            s.north_count >= k.flag_fault_north_maneuvers
            AND s.elsewhere_count >= k.flag_fault_north_maneuvers
            AND s.north_ratio >= k.flag_fault_north_factor * s.elsewhere_ratio, FALSE
        ) AS is_poor_north
    FROM summed AS s
    CROSS JOIN limits AS k
    INNER JOIN current_levels AS c ON s.student_id = c.student_id AND s.aspect = c.aspect AND s.stratum = c.stratum
    LEFT JOIN level_offs AS o ON s.student_id = o.student_id AND s.aspect = o.aspect AND s.stratum = o.stratum
),

named AS (
    SELECT
        student_id,
        aspect,
        stratum,
        maneuver_count,
        bias_mean,
        bias_share,
        spread,
        drift_per_min,
        drift_share,
        reversals_per_min,
        near_zero_vs,
        is_chasing,
        is_wrong_way,
        wrong_share,
        is_by_trim,
        unsteady_share,
        is_overshooting,
        overshoot_ft,
        level_off_count,
        heavy_right,
        heavy_left,
        held_mean,
        held_ratio,
        CASE WHEN is_held_one_way THEN SIGN(held_mean) END AS held_sign,
        north_ratio,
        elsewhere_ratio,
        CASE
            WHEN aspect = 'trim' AND is_held AND is_wrong_way THEN 'trim_wrong_way'
            WHEN aspect = 'trim' AND is_held AND is_held_one_way AND held_mean > 0 THEN 'held_pull'
            WHEN aspect = 'trim' AND is_held AND is_held_one_way THEN 'held_push'
            WHEN aspect = 'trim' AND is_chasing THEN 'chasing'
            WHEN aspect = 'trim' AND is_by_trim THEN 'flying_by_trim'
            WHEN aspect = 'trim' AND is_held THEN 'held_both_ways'
            WHEN aspect = 'trim' THEN 'late_trim'
            WHEN aspect = 'altitude' AND is_held AND is_held_one_way AND held_mean > 0 THEN 'altitude_with_pull'
            WHEN aspect = 'altitude' AND is_held AND is_held_one_way THEN 'altitude_with_push'
            WHEN aspect = 'altitude' AND is_chasing THEN 'altitude_chasing'
            WHEN aspect = 'altitude' AND is_off_one_way AND bias_mean > 0 THEN 'altitude_high'
            WHEN aspect = 'altitude' AND is_off_one_way THEN 'altitude_low'
            WHEN aspect = 'altitude' AND is_off THEN 'altitude_off'
            WHEN aspect = 'altitude' AND is_overshooting THEN 'altitude_overshoot'
            WHEN aspect = 'altitude' AND is_drifting THEN 'altitude_drift'
            WHEN aspect = 'altitude' THEN 'altitude_spread'
            WHEN is_poor_north THEN 'heading_north'
            WHEN is_wing_heavy THEN 'heading_heavy_wing'
            WHEN is_off THEN 'heading_off'
            WHEN is_drifting_one_way AND drift_per_min > 0 THEN 'heading_drift_right'
            WHEN is_drifting_one_way THEN 'heading_drift_left'
            WHEN is_drifting THEN 'heading_drift'
            ELSE 'heading_spread'
        END AS fault
    FROM signs
)

SELECT
    student_id,
    aspect,
    stratum,
    fault,
    maneuver_count,
    bias_mean,
    bias_share,
    spread,
    drift_per_min,
    drift_share,
    reversals_per_min,
    near_zero_vs,
    is_chasing,
    is_wrong_way,
    wrong_share,
    is_by_trim,
    unsteady_share,
    is_overshooting,
    overshoot_ft,
    level_off_count,
    held_mean,
    held_ratio,
    held_sign,
    north_ratio,
    elsewhere_ratio,
    CASE
        WHEN fault IN ('held_pull', 'altitude_with_pull')
            THEN FORMAT('a steady pull is held (plain mean of the latest level flights: {:.3f} of travel)', held_mean)
        WHEN fault IN ('held_push', 'altitude_with_push')
            THEN FORMAT('a steady push is held (plain mean of the latest level flights: {:.3f} of travel)', -held_mean)
        WHEN fault = 'held_both_ways' THEN 'control is held, now one way, now the other'
        WHEN fault IN ('chasing', 'altitude_chasing')
            THEN
                FORMAT('the control reverses {:.0f} times a minute and the needle is near zero for only {:.0f} % of the time', reversals_per_min, 100 * near_zero_vs)
        WHEN fault = 'late_trim' THEN 'little is held in level flight; the trim comes late after changes'
        WHEN fault = 'altitude_high' THEN FORMAT('{:.0f} ft high on average', bias_mean)
        WHEN fault = 'altitude_low' THEN FORMAT('{:.0f} ft low on average', -bias_mean)
        WHEN fault = 'altitude_off' THEN FORMAT('mostly by settling away from the altitude asked for, which is most of the error ({:.0f} % of its square)', 100 * bias_share)
        WHEN fault = 'altitude_drift'
            THEN
                REPLACE(FORMAT('mostly by drifting, {:.0f} ft a minute ({:.0f} % of the spread)', drift_per_min, 100 * drift_share), '-', '−')
        WHEN fault = 'altitude_spread' THEN FORMAT('wandering by {:.0f} ft about its own mean', spread)
        WHEN fault = 'heading_north' THEN FORMAT('{:.1f} times the tolerance near north, {:.1f} elsewhere', north_ratio, elsewhere_ratio)
        WHEN fault = 'heading_heavy_wing'
            THEN FORMAT(
                'the {} wing is heavy in {:d} of {:d} level flights',
                CASE WHEN heavy_right >= heavy_left THEN 'right' ELSE 'left' END, GREATEST(heavy_right, heavy_left), maneuver_count
            )
        WHEN fault = 'heading_drift_right' THEN FORMAT('drifting right by {:.1f}° a minute', drift_per_min)
        WHEN fault = 'heading_drift_left' THEN FORMAT('drifting left by {:.1f}° a minute', -drift_per_min)
        WHEN fault = 'trim_wrong_way' THEN FORMAT('{:.0f} % of the trim inputs went the wrong way', 100 * wrong_share)
        WHEN fault = 'flying_by_trim' THEN FORMAT('{:.0f} % of the trim inputs came while still climbing or descending', 100 * unsteady_share)
        WHEN fault = 'altitude_overshoot' THEN FORMAT('level-offs overshoot by {:.0f} ft (median of {:d})', overshoot_ft, level_off_count)
        WHEN fault = 'heading_off' THEN FORMAT('mostly by settling away from the heading asked for, which is most of the error ({:.0f} % of its square)', 100 * bias_share)
        WHEN fault = 'heading_drift' THEN FORMAT('mostly by drifting, now one way, now the other ({:.0f} % of the spread)', 100 * drift_share)
        WHEN fault = 'heading_spread' THEN FORMAT('wandering by {:.1f}° about its own mean', spread)
    END AS fault_words
FROM named
ORDER BY student_id, aspect, stratum;
