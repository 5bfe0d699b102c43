-- One row is a turn that was found in a log. A TABLE: read several times.
-- Inputs: slow_motions, session_seconds, limits
-- Grain: session_id, revision, start_no
-- Units: start_no and end_no in whole seconds from the session's start; change_deg and kept_deg in degrees, positive as turned; peak_deg_per_s in degrees per second
-- Source: ours. A run of slow turning to one side, beyond a sixth of inferred_turn_rate_deg_per_s throughout, from the second in which it first has a fifth of
-- its greatest rate to the one in which it last does. It was meant where the change is inferred_turn_deg or more, its greatest rate
-- inferred_turn_rate_deg_per_s (faster than a correction turns), and two thirds of inferred_turn_deg kept; in any case from inferred_turn_surely_deg on.
CREATE OR REPLACE TABLE found_turns AS
WITH signed AS (
    SELECT
        m.session_id,
        m.revision,
        m.stretch_no,
        m.second_no,
        m.turn_deg_per_s,
        CASE WHEN ABS(m.turn_deg_per_s) > l.inferred_turn_rate_deg_per_s / 6 THEN SIGN(m.turn_deg_per_s) ELSE 0 END AS direction
    FROM slow_motions AS m
    CROSS JOIN limits AS l
),

turned AS (
    SELECT
        *,
        COALESCE(
            direction <> LAG(direction) OVER ()
            OR stretch_no <> LAG(stretch_no) OVER ()
            OR session_id <> LAG(session_id) OVER ()
            OR revision <> LAG(revision) OVER (),
            TRUE
        ) AS is_begun
    FROM signed
),

numbered AS (
    SELECT
        *,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS run_no
    FROM turned
),

peaks AS (
    SELECT
        *,
        MAX(ABS(turn_deg_per_s)) OVER (PARTITION BY run_no) AS peak
    FROM numbered
    WHERE direction <> 0
),

runs AS (
    SELECT
        session_id,
        revision,
        stretch_no,
        direction,
        peak,
        MIN(second_no) AS start_no,
        MAX(second_no) AS end_no
    FROM peaks
    WHERE ABS(turn_deg_per_s) >= peak / 5
    GROUP BY session_id, revision, run_no, stretch_no, direction, peak
),

edge_seconds AS (
    SELECT
        session_id,
        revision,
        stretch_no,
        start_no,
        UNNEST([start_no - 1, start_no, start_no + 1, end_no - 1, end_no, end_no + 1]) AS second_no,
        UNNEST([TRUE, TRUE, TRUE, FALSE, FALSE, FALSE]) AS is_start
    FROM runs
),

changes AS (
    SELECT
        e.session_id,
        e.revision,
        e.start_no,
        AVG(s.heading_deg) FILTER (WHERE e.is_start) AS start_deg,
        AVG(s.heading_deg) FILTER (WHERE NOT e.is_start) AS end_deg
    FROM edge_seconds AS e
    INNER JOIN session_seconds AS s
        ON e.session_id = s.session_id AND e.revision = s.revision AND e.stretch_no = s.stretch_no AND e.second_no = s.second_no
    GROUP BY e.session_id, e.revision, e.start_no
),

large_runs AS (
    SELECT
        r.*,
        c.end_deg,
        r.direction * (c.end_deg - c.start_deg) AS change_deg
    FROM runs AS r
    CROSS JOIN limits AS l
    INNER JOIN changes AS c ON r.session_id = c.session_id AND r.revision = c.revision AND r.start_no = c.start_no
    WHERE r.direction * (c.end_deg - c.start_deg) >= LEAST(l.inferred_turn_deg, l.inferred_turn_surely_deg)
),

surroundings AS (
    SELECT
        r.session_id,
        r.revision,
        r.stretch_no,
        r.direction,
        r.peak,
        r.start_no,
        r.end_no,
        r.end_deg,
        r.change_deg,
        MEDIAN(s.heading_deg) FILTER (WHERE s.second_no < r.start_no) AS before_deg,
        MEDIAN(s.heading_deg) FILTER (WHERE s.second_no > r.end_no + 5) AS after_deg
    FROM large_runs AS r
    INNER JOIN session_seconds AS s
        ON
            r.session_id = s.session_id AND r.revision = s.revision AND r.stretch_no = s.stretch_no
            AND s.second_no BETWEEN r.start_no - 40 AND r.end_no + 45
    GROUP BY r.session_id, r.revision, r.stretch_no, r.direction, r.peak, r.start_no, r.end_no, r.end_deg, r.change_deg
),

judged AS (
    SELECT
        *,
        direction * (after_deg - before_deg) AS kept_deg
    FROM surroundings
)

SELECT
    j.session_id,
    j.revision,
    j.stretch_no,
    j.start_no,
    j.end_no,
    j.change_deg,
    j.kept_deg,
    COALESCE(j.after_deg, j.end_deg) AS settled_deg,
    j.peak AS peak_deg_per_s
FROM judged AS j
CROSS JOIN limits AS l
WHERE
    (
        j.change_deg >= l.inferred_turn_deg
        AND j.peak >= l.inferred_turn_rate_deg_per_s
        AND COALESCE(j.kept_deg, j.change_deg) >= 2 * l.inferred_turn_deg / 3
    )
    OR j.change_deg >= l.inferred_turn_surely_deg;
