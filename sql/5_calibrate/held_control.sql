-- One row is what the student held in a level maneuver that trim should carry: a steady pull (positive) or push (negative).
-- Inputs: maneuvers, sessions, session_gates, channel_sums, device_neutrals, limits
-- Grain: maneuver_id
-- Units: held_control in fractions of travel; held_force_n in newtons
-- Source: ours: mean pitch control less the device's neutral. A free yoke's position shows no force: there only a logged force can tell.
-- Null, with held_control_reason, where neither can be known; where the control was observed for less than the scored share, or a data check is
-- against it, the figure is shown but not judged: is_untrimmed is null.
CREATE OR REPLACE VIEW held_control AS
WITH held_back AS (
    SELECT
        session_id,
        channel,
        MIN(gate) AS gate
    FROM session_gates
    WHERE severity = 'not_scored' AND channel IN ('pitch_control', 'pitch_force')
    GROUP BY session_id, channel
),

read AS (
    SELECT
        m.maneuver_id,
        s.control,
        c.mean - n.pitch_neutral AS held_control,
        f.mean AS held_force_n,
        CASE
            WHEN s.control = 'free' AND f.mean IS NULL THEN 'a free control shows no force and none was logged'
            WHEN s.control = 'free' THEN NULL
            WHEN c.mean IS NULL THEN 'pitch control not logged'
            WHEN s.device_id IS NULL THEN 'device not named'
            WHEN n.pitch_neutral IS NULL THEN 'no neutral: ' || COALESCE(n.neutral_reason, 'device not seen')
        END AS unknown_reason,
        CASE
            WHEN
                CASE WHEN s.control = 'free' THEN f.observed_s ELSE c.observed_s END
                < ROUND(l.scored_observed_share * (m.end_s - m.start_s), 6)
                THEN 'pitch control observed for less than the scored share'
            WHEN g.gate IS NOT NULL THEN 'data check: ' || g.gate
        END AS doubt_reason
    FROM maneuvers AS m
    INNER JOIN sessions AS s ON m.session_id = s.session_id
    CROSS JOIN limits AS l
    LEFT JOIN channel_sums AS c ON m.maneuver_id = c.maneuver_id AND c.channel = 'pitch_control'
    LEFT JOIN channel_sums AS f ON m.maneuver_id = f.maneuver_id AND f.channel = 'pitch_force'
    LEFT JOIN held_back AS g
        ON m.session_id = g.session_id AND g.channel = CASE WHEN s.control = 'free' THEN 'pitch_force' ELSE 'pitch_control' END
    LEFT JOIN device_neutrals AS n ON s.device_id = n.device_id AND s.session_date = n.session_date
    WHERE m.kind = 'level'
)

SELECT
    r.maneuver_id,
    CASE WHEN r.control = 'centring' THEN ROUND(r.held_control, 9) END AS held_control,
    ROUND(r.held_force_n, 9) AS held_force_n,
    CASE
        WHEN r.doubt_reason IS NOT NULL THEN NULL
        WHEN r.control = 'free' THEN ABS(r.held_force_n) > l.untrimmed_force_n
        ELSE ABS(r.held_control) > l.untrimmed_limit
    END AS is_untrimmed,
    COALESCE(r.unknown_reason, r.doubt_reason) AS held_control_reason
FROM read AS r
CROSS JOIN limits AS l;
