-- One row is a maneuver in level flight of a session that counts and how it was flown: the needle chased or not, the trim used rightly or not, corrections made small or not.
-- Inputs: maneuvers, sessions, channel_sums, correction_sums, trim_contexts, device_neutrals, limits
-- Grain: maneuver_id
-- Units: needle_r a correlation; growth a ratio; correction_gain_per_min in ft/min per foot; shares as fractions; trims as counts; control_lead_s in seconds
-- Source: correction_sums and trim_contexts. is_chasing: the control follows the needle by chasing_needle_r or closer and moves by chasing_control_sd or more. A trim
-- input was right where it went the way of the control held before it (nose up for a pull), or, with nothing held, against the vertical
-- speed; wrong where it went the other way; with neither held nor moving it cannot be told. trims_unsteady counts those begun with a
-- vertical speed beyond trim_steady_fpm: attitude first, then trim (FAA Airplane Flying Handbook; flying by the trim is a fault).
-- is_control_first, of a level-off or power change: the control had moved before the first trim input, control_lead_s before it.
CREATE OR REPLACE VIEW technique AS
WITH held AS (
    SELECT
        t.maneuver_id,
        t.move_no,
        t.start_s,
        t.control_moved_s,
        SIGN(t.change) AS trimmed,
        ABS(t.rate_before_fpm) > l.trim_steady_fpm AS is_unsteady,
        CASE
            WHEN s.control = 'free'
                THEN CASE WHEN ABS(t.force_before_n) >= l.trim_held_force_n THEN SIGN(t.force_before_n) WHEN t.force_before_n IS NOT NULL THEN 0 END
            WHEN ABS(t.control_before - n.pitch_neutral) >= l.trim_held_control THEN SIGN(t.control_before - n.pitch_neutral)
            WHEN t.control_before - n.pitch_neutral IS NOT NULL THEN 0
        END AS held_side,
        CASE WHEN ABS(t.rate_before_fpm) > l.near_zero_vertical_speed_fpm THEN -SIGN(t.rate_before_fpm) END AS called_side
    FROM trim_contexts AS t
    CROSS JOIN limits AS l
    INNER JOIN maneuvers AS m ON t.maneuver_id = m.maneuver_id
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    LEFT JOIN device_neutrals AS n ON s.device_id = n.device_id AND s.session_date = n.session_date
),

trims AS (
    SELECT
        maneuver_id,
        COUNT(*) FILTER (WHERE COALESCE(NULLIF(held_side, 0), CASE WHEN held_side = 0 THEN called_side END) = trimmed) AS trims_right,
        COUNT(*) FILTER (WHERE COALESCE(NULLIF(held_side, 0), CASE WHEN held_side = 0 THEN called_side END) = -trimmed) AS trims_wrong,
        COUNT(*) FILTER (WHERE is_unsteady) AS trims_unsteady,
        COUNT(*) AS trims,
        ARG_MIN(start_s, move_no) AS first_trim_s,
        ARG_MIN(STRUCT_PACK(moved_s := control_moved_s), move_no).moved_s AS control_moved_s
    FROM held
    GROUP BY maneuver_id
)

SELECT
    m.maneuver_id,
    ROUND(r.needle_r, 9) AS needle_r,
    r.needle_r <= l.chasing_needle_r AND c.spread >= l.chasing_control_sd AS is_chasing,
    ROUND(r.growth, 9) AS growth,
    ROUND(r.correction_gain_per_min, 9) AS correction_gain_per_min,
    ROUND(r.over_rate_share, 9) AS over_rate_share,
    ROUND(r.over_bank_share, 9) AS over_bank_share,
    CASE WHEN LIST_CONTAINS(s.channels, 'pitch_trim') THEN COALESCE(t.trims, 0) END AS trims,
    CASE WHEN LIST_CONTAINS(s.channels, 'pitch_trim') THEN COALESCE(t.trims_right, 0) END AS trims_right,
    CASE WHEN LIST_CONTAINS(s.channels, 'pitch_trim') THEN COALESCE(t.trims_wrong, 0) END AS trims_wrong,
    CASE WHEN LIST_CONTAINS(s.channels, 'pitch_trim') THEN COALESCE(t.trims_unsteady, 0) END AS trims_unsteady,
    CASE WHEN m.kind <> 'level' AND LIST_CONTAINS(s.channels, 'pitch_control') AND t.trims > 0 THEN t.control_moved_s IS NOT NULL END AS is_control_first,
    CASE WHEN m.kind <> 'level' THEN t.first_trim_s - t.control_moved_s END AS control_lead_s,
    NULLIF(
        CONCAT_WS(
            '; ',
            CASE WHEN r.needle_r IS NULL THEN 'pitch control or vertical speed not observed' END,
            CASE WHEN NOT LIST_CONTAINS(s.channels, 'pitch_trim') THEN 'pitch trim not logged' END
        ),
        ''
    ) AS technique_reason
FROM maneuvers AS m
CROSS JOIN limits AS l
INNER JOIN sessions AS s ON m.session_id = s.session_id
LEFT JOIN correction_sums AS r ON m.maneuver_id = r.maneuver_id
LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'pitch_control'
LEFT JOIN trims AS t ON m.maneuver_id = t.maneuver_id
WHERE m.kind IN ('level', 'level_off', 'power_change');
