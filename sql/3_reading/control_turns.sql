-- One row is an input (the pitch control or the trim) over a maneuver: how often its movement turned round. A TABLE: read once and kept.
-- Inputs: second_means, limits
-- Grain: maneuver_id, input
-- Units: turns and seconds are counts
-- Kept: one file beside each samples file
-- Source: ours. On the means of each second a movement counts once it has gone the dead-band from the last turning point, so noise
-- within the dead-band, or a slow drift in one direction, turns nothing. Seconds without a value are passed over.
CREATE OR REPLACE TABLE control_turns AS
WITH inputs AS (
    SELECT
        m.maneuver_id,
        'pitch_control' AS input,
        m.second_no,
        m.pitch_control AS position,
        l.control_dead_band AS dead_band
    FROM second_means AS m
    CROSS JOIN limits AS l
    WHERE m.pitch_control IS NOT NULL
    UNION ALL
    SELECT
        m.maneuver_id,
        'pitch_trim' AS input,
        m.second_no,
        m.pitch_trim AS position,
        l.trim_dead_band AS dead_band
    FROM second_means AS m
    CROSS JOIN limits AS l
    WHERE m.pitch_trim IS NOT NULL
),

walks AS (
    SELECT
        maneuver_id,
        input,
        LIST(
            {
                'position': position,
                'high': position,
                'low': position,
                'dead_band': dead_band,
                'direction': 0,
                'turns': 0
            }
            ORDER BY second_no
        ) AS steps
    FROM inputs
    GROUP BY maneuver_id, input
),

walked AS (
    SELECT
        maneuver_id,
        input,
        LEN(steps) AS seconds,
        LIST_REDUCE(
            steps,
            LAMBDA so_far, step: CASE -- noqa: PRS, CP02
                WHEN so_far.direction >= 0 AND so_far.high - step.position >= step.dead_band
                    THEN {
                        'position': step.position,
                        'high': step.position,
                        'low': step.position,
                        'dead_band': step.dead_band,
                        'direction': -1,
                        'turns': so_far.turns + so_far.direction
                    }
                WHEN so_far.direction <= 0 AND step.position - so_far.low >= step.dead_band
                    THEN {
                        'position': step.position,
                        'high': step.position,
                        'low': step.position,
                        'dead_band': step.dead_band,
                        'direction': 1,
                        'turns': so_far.turns - so_far.direction
                    }
                ELSE {
                    'position': step.position,
                    'high': GREATEST(so_far.high, step.position),
                    'low': LEAST(so_far.low, step.position),
                    'dead_band': step.dead_band,
                    'direction': so_far.direction,
                    'turns': so_far.turns
                }
            END
        ) AS last
    FROM walks
)

SELECT
    maneuver_id,
    input,
    seconds,
    last.turns AS turns
FROM walked
ORDER BY maneuver_id, input;
