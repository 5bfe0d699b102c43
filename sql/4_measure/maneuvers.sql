-- One row is a maneuver of a session that counts: what was asked, when, how much of it was observed, and whether it is scored.
-- A TABLE: nearly every other relation reads it.
-- Inputs: maneuver_windows, sessions, channel_sums, maneuver_states, session_gates, reviews, limits
-- Grain: maneuver_id
-- Units: start_s, end_s and observed_s in seconds from the session's start; altitude in feet; heading in degrees magnetic
-- Source: ours: only level maneuvers are scored, if they last scored_minimum_s, were observed for scored_observed_share of their time, were
-- flown by the student, and nothing found in the whole log or set aside by an instructor is against it; the reason says which. A finding
-- against one channel stands with the figures of that channel
CREATE OR REPLACE TABLE maneuvers AS
WITH seen AS (
    SELECT
        maneuver_id,
        observed_s
    FROM channel_sums
    WHERE channel = 'altitude'
),

held_back AS (
    SELECT
        session_id,
        MIN(gate) AS gate
    FROM session_gates
    WHERE severity = 'not_scored' AND channel IS NULL
    GROUP BY session_id
),

set_aside AS (
    SELECT
        maneuver_id,
        ARG_MAX(note, made_at) AS note
    FROM reviews
    WHERE kind = 'set-aside' AND aspect IS NULL
    GROUP BY maneuver_id
),

judged AS (
    SELECT
        w.maneuver_id,
        w.session_id,
        w.revision,
        w.kind,
        w.basis,
        w.start_s,
        w.end_s,
        w.target_altitude_ft,
        w.target_heading_deg,
        w.flown_by,
        COALESCE(o.observed_s, 0) AS observed_s,
        CASE
            WHEN w.kind <> 'level' THEN 'only level maneuvers are scored'
            WHEN w.end_ms - w.start_ms < 1000 * l.scored_minimum_s THEN 'shorter than ' || CAST(l.scored_minimum_s AS INTEGER) || ' s'
            WHEN w.flown_by = 'instructor' THEN 'flown by the instructor'
            WHEN t.is_autopilot_on THEN 'autopilot engaged'
            WHEN t.is_on_ground THEN 'on the ground'
            WHEN COALESCE(o.observed_s, 0) < ROUND(l.scored_observed_share * (w.end_ms - w.start_ms) / 1000, 6)
                THEN FORMAT(
                    'observed for only {:.0f} of {:.0f} s',
                    COALESCE(o.observed_s, 0),
                    w.end_s - w.start_s
                )
            WHEN g.gate IS NOT NULL THEN 'data check: ' || g.gate
            WHEN a.maneuver_id IS NOT NULL THEN 'set aside: ' || COALESCE(a.note, '')
        END AS not_scored_reason
    FROM maneuver_windows AS w
    INNER JOIN sessions AS s ON w.session_id = s.session_id AND w.revision = s.revision
    CROSS JOIN limits AS l
    LEFT JOIN seen AS o ON w.maneuver_id = o.maneuver_id
    LEFT JOIN maneuver_states AS t ON w.maneuver_id = t.maneuver_id
    LEFT JOIN held_back AS g ON w.session_id = g.session_id
    LEFT JOIN set_aside AS a ON w.maneuver_id = a.maneuver_id
)

SELECT
    maneuver_id,
    session_id,
    revision,
    kind,
    basis,
    start_s,
    end_s,
    target_altitude_ft,
    target_heading_deg,
    flown_by,
    observed_s,
    not_scored_reason IS NULL AS is_scored,
    not_scored_reason
FROM judged;
