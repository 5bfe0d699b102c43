-- One row is a level maneuver and what it says of roll: a steady push or pull to one side, a bank left standing.
-- Inputs: maneuvers, sessions, channel_sums, control_neutrals, limits
-- Grain: maneuver_id
-- Units: held_roll_control in fractions of travel, positive to the right; steady_bank_deg in degrees, positive right wing down
-- Source: ours: mean roll control less the device's neutral, and mean bank. Held to the left is a heavy right wing, and the other way round; a heavy wing that is
-- not held shows as a standing bank: one beyond steady_bank_deg and twice its own spread. Uneven fuel or load may stand behind it: it is no
-- fault of the student's. Without a roll trim a free yoke floats in one place too; with one its place shows no force, and
-- held_roll_control is null, as where no neutral is known.
CREATE OR REPLACE VIEW roll_trim AS
WITH read AS (
    SELECT
        m.maneuver_id,
        s.control,
        CASE WHEN s.control = 'centring' OR NOT LIST_CONTAINS(s.channels, 'roll_trim') THEN c.mean - n.neutral END AS held_roll_control,
        b.mean AS steady_bank_deg,
        b.spread AS bank_spread_deg,
        CASE
            WHEN s.control = 'free' AND LIST_CONTAINS(s.channels, 'roll_trim') THEN 'a free control with a trim shows no force'
            WHEN c.mean IS NULL THEN 'roll control not logged'
            WHEN n.neutral IS NULL THEN 'no neutral: ' || COALESCE(n.neutral_reason, 'device not seen')
        END AS roll_trim_reason
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'roll_control'
    LEFT JOIN channel_sums AS b ON m.maneuver_id = b.maneuver_id AND b.channel = 'bank'
    LEFT JOIN control_neutrals AS n
        ON s.device_id = n.device_id AND s.session_date = n.session_date AND n.input = 'roll_control'
    WHERE m.kind = 'level'
)

SELECT
    r.maneuver_id,
    ROUND(r.held_roll_control, 9) AS held_roll_control,
    ROUND(r.steady_bank_deg, 9) AS steady_bank_deg,
    CASE
        WHEN ABS(r.held_roll_control) > l.untrimmed_roll THEN CASE WHEN r.held_roll_control < 0 THEN 'right' ELSE 'left' END
        WHEN ABS(r.steady_bank_deg) > GREATEST(l.steady_bank_deg, 2 * r.bank_spread_deg) THEN CASE WHEN r.steady_bank_deg > 0 THEN 'right' ELSE 'left' END
    END AS heavy_wing,
    CASE WHEN r.held_roll_control IS NULL THEN r.roll_trim_reason END AS roll_trim_reason
FROM read AS r
CROSS JOIN limits AS l;
