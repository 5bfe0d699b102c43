-- One row is a drawn maneuver with the figures that stand in the table beside its trace.
-- Inputs: page_trace_maneuvers, altitude_hold, heading_hold, steadiness, technique, held_control, trim_settling, tolerance_excursions
-- Grain: maneuver_id
-- Units: each figure's unit is in its name; in_tolerance as fractions of observed time; longest in seconds
-- Source: the measures, unchanged, against the standard of the student's current stage
CREATE OR REPLACE VIEW page_maneuvers AS
SELECT
    m.student_id,
    m.maneuver_id,
    m.session_id,
    m.session_date,
    m.device_id,
    m.kind,
    m.basis,
    m.start_s,
    m.end_s,
    m.target_altitude_ft,
    m.target_heading_deg,
    m.is_scored,
    m.not_scored_reason,
    m.place,
    m.is_latest,
    m.altitude_tolerance_ft,
    m.heading_tolerance_deg,
    m.pitch_neutral,
    a.altitude_hold95_ft,
    a.altitude_bias_ft,
    a.altitude_hold_reason,
    h.heading_hold95_deg,
    h.heading_bias_deg,
    h.heading_hold_reason,
    xa.in_tolerance AS altitude_in_tolerance,
    xa.excursions AS altitude_excursions,
    xa.longest_out_s AS altitude_longest_out_s,
    xh.in_tolerance AS heading_in_tolerance,
    xh.excursions AS heading_excursions,
    t.vertical_speed_rms_fpm,
    t.control_reversals_per_min,
    t.trim_inputs,
    q.trims_right,
    q.is_chasing,
    q.is_control_first,
    c.held_control,
    c.is_untrimmed,
    c.held_control_reason,
    g.trim_settle_s,
    g.is_settled,
    g.trim_set_s,
    g.is_set,
    g.followed_s,
    g.settling_reason
FROM page_trace_maneuvers AS m
LEFT JOIN altitude_hold AS a ON m.maneuver_id = a.maneuver_id
LEFT JOIN heading_hold AS h ON m.maneuver_id = h.maneuver_id
LEFT JOIN tolerance_excursions AS xa ON m.maneuver_id = xa.maneuver_id AND m.altitude_tolerance_ft = xa.tolerance AND xa.channel = 'altitude'
LEFT JOIN tolerance_excursions AS xh ON m.maneuver_id = xh.maneuver_id AND m.heading_tolerance_deg = xh.tolerance AND xh.channel = 'heading'
LEFT JOIN steadiness AS t ON m.maneuver_id = t.maneuver_id
LEFT JOIN technique AS q ON m.maneuver_id = q.maneuver_id
LEFT JOIN held_control AS c ON m.maneuver_id = c.maneuver_id
LEFT JOIN trim_settling AS g ON m.maneuver_id = g.maneuver_id
ORDER BY m.student_id, m.place;
