-- One row is a place where a log does not go on by itself: a jump of a simulator, a pause, or a long gap.
-- A TABLE: maneuvers are split at it and the search for maneuvers starts anew.
-- Inputs: stored_samples, stored_sessions, limits
-- Grain: session_id, revision, from_ms, break_kind
-- Units: from_ms and to_ms in milliseconds from the session's start: the last sample before and the first one after
-- Source: ours. jump: altitude or heading steps further than an aeroplane could and stays there (a lone wrong sample does not count), from sample to sample; one
-- that was recorded more slowly than the log, from one value of its own to the next. pause: of pause_channels channels or more, none moves for
-- pause_s. gap: no sample for inferred_gap_s.
CREATE OR REPLACE TABLE session_breaks AS
WITH neighbours AS (
    SELECT
        session_id,
        revision,
        t_ms,
        LAG(session_id) OVER () = session_id AND LAG(revision) OVER () = revision AS has_previous,
        COALESCE(LAG(session_id, 2) OVER () = session_id AND LAG(revision, 2) OVER () = revision, FALSE) AS has_second_previous,
        LEAD(session_id) OVER () = session_id AND LEAD(revision) OVER () = revision AS has_next,
        LAG(t_ms) OVER () AS previous_ms,
        altitude_ft - LAG(altitude_ft) OVER () AS climb_ft,
        altitude_ft - LAG(altitude_ft, 2) OVER () AS second_climb_ft,
        LEAD(altitude_ft) OVER () - LAG(altitude_ft) OVER () AS kept_climb_ft,
        180 - ABS(180 - ABS(heading_deg - LAG(heading_deg) OVER ())) AS turn_deg,
        180 - ABS(180 - ABS(heading_deg - LAG(heading_deg, 2) OVER ())) AS second_turn_deg,
        180 - ABS(180 - ABS(LEAD(heading_deg) OVER () - LAG(heading_deg) OVER ())) AS kept_turn_deg,
        HASH(
            altitude_ft,
            heading_deg,
            vertical_speed_fpm,
            airspeed_kt,
            pitch_deg,
            bank_deg,
            pitch_control,
            roll_control
        ) AS state
    FROM stored_samples
),

paired AS (
    SELECT
        *,
        COALESCE(state <> LAG(state) OVER (), TRUE) AS is_moving
    FROM neighbours
),

moments AS (
    SELECT
        n.session_id,
        n.revision,
        n.t_ms,
        n.previous_ms,
        n.has_previous AND n.t_ms - n.previous_ms > 1000 * l.inferred_gap_s AS is_gap,
        n.has_previous AND n.has_next AND (
            (
                ABS(n.climb_ft) > l.jump_altitude_ft + l.jump_altitude_ft_per_s * (n.t_ms - n.previous_ms) / 1000
                AND ABS(n.kept_climb_ft) > l.jump_altitude_ft
                AND (NOT n.has_second_previous OR ABS(n.second_climb_ft) > l.jump_altitude_ft)
            )
            OR (
                n.turn_deg > l.jump_heading_deg + l.jump_heading_deg_per_s * (n.t_ms - n.previous_ms) / 1000
                AND n.kept_turn_deg > l.jump_heading_deg
                AND (NOT n.has_second_previous OR n.second_turn_deg > l.jump_heading_deg)
            )
        ) AS is_jump,
        COALESCE(n.has_previous, FALSE) AND NOT n.is_moving AS is_still
    FROM paired AS n
    CROSS JOIN limits AS l
),

slower_values AS (
    SELECT
        p.session_id,
        p.revision,
        'altitude' AS channel,
        p.t_ms,
        p.altitude_ft AS value
    FROM stored_samples AS p
    INNER JOIN stored_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
    WHERE LIST_CONTAINS(s.sparse_channels, 'altitude_ft') AND p.altitude_ft IS NOT NULL
    UNION ALL
    SELECT
        p.session_id,
        p.revision,
        'heading' AS channel,
        p.t_ms,
        p.heading_deg AS value
    FROM stored_samples AS p
    INNER JOIN stored_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
    WHERE LIST_CONTAINS(s.sparse_channels, 'heading_deg') AND p.heading_deg IS NOT NULL
),

slower_steps AS (
    SELECT
        session_id,
        revision,
        channel,
        t_ms,
        LAG(t_ms) OVER own AS previous_ms,
        ABS(value - LAG(value) OVER own) AS step,
        ABS(value - LAG(value, 2) OVER own) AS second_step,
        ABS(LEAD(value) OVER own - LAG(value) OVER own) AS kept_step
    FROM slower_values
    WINDOW own AS (PARTITION BY session_id, revision, channel ORDER BY t_ms)
),

slower_jumps AS (
    SELECT
        w.session_id,
        w.revision,
        w.previous_ms,
        w.t_ms
    FROM slower_steps AS w
    CROSS JOIN limits AS l
    WHERE
        CASE w.channel
            WHEN 'altitude'
                THEN
                    w.step > l.jump_altitude_ft + l.jump_altitude_ft_per_s * (w.t_ms - w.previous_ms) / 1000
                    AND w.kept_step > l.jump_altitude_ft
                    AND COALESCE(w.second_step > l.jump_altitude_ft, TRUE)
            ELSE
                180 - ABS(180 - w.step) > l.jump_heading_deg + l.jump_heading_deg_per_s * (w.t_ms - w.previous_ms) / 1000
                AND 180 - ABS(180 - w.kept_step) > l.jump_heading_deg
                AND COALESCE(180 - ABS(180 - w.second_step) > l.jump_heading_deg, TRUE)
        END
),

steps_away AS (
    SELECT
        session_id,
        revision,
        previous_ms,
        t_ms,
        COALESCE(is_jump, FALSE) AS is_jump
    FROM moments
    WHERE is_jump OR is_gap
    UNION ALL
    SELECT
        w.session_id,
        w.revision,
        w.previous_ms,
        w.t_ms,
        TRUE AS is_jump
    FROM slower_jumps AS w
    ANTI JOIN moments AS m
        ON
            w.session_id = m.session_id AND w.revision = m.revision AND m.is_jump
            AND m.t_ms > w.previous_ms AND m.t_ms <= w.t_ms
),

still_steps AS (
    SELECT
        session_id,
        revision,
        previous_ms,
        t_ms,
        COALESCE(previous_ms > LAG(t_ms) OVER (PARTITION BY session_id, revision ORDER BY t_ms), TRUE) AS is_begun
    FROM moments
    WHERE is_still
),

numbered_steps AS (
    SELECT
        *,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (PARTITION BY session_id, revision ORDER BY t_ms) AS still_no
    FROM still_steps
),

stills AS (
    SELECT
        session_id,
        revision,
        MIN(previous_ms) AS from_ms,
        MAX(t_ms) AS to_ms
    FROM numbered_steps
    GROUP BY session_id, revision, still_no
)

SELECT
    session_id,
    revision,
    previous_ms AS from_ms,
    MAX(t_ms) AS to_ms,
    CASE WHEN BOOL_OR(is_jump) THEN 'jump' ELSE 'gap' END AS break_kind
FROM steps_away
GROUP BY session_id, revision, previous_ms
UNION ALL
SELECT
    p.session_id,
    p.revision,
    p.from_ms,
    p.to_ms,
    'pause' AS break_kind
FROM stills AS p
CROSS JOIN limits AS l
INNER JOIN stored_sessions AS s ON p.session_id = s.session_id AND p.revision = s.revision
WHERE
    p.to_ms - p.from_ms >= 1000 * l.pause_s
    AND LEN(
        LIST_INTERSECT(
            s.channels,
            [
                'altitude_ft', 'heading_deg', 'vertical_speed_fpm', 'airspeed_kt',
                'pitch_deg', 'bank_deg', 'pitch_control', 'roll_control'
            ]
        )
    ) >= l.pause_channels;
