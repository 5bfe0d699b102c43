-- One row is a maneuver that was found in a log, before it is held against what was assigned. A TABLE: read several times.
-- Inputs: session_seconds, found_climbs, found_turns, found_power_changes, limits
-- Grain: session_id, revision, start_no
-- Units: start_no, end_no, flat_no (since when it neither climbed, descended nor turned) and begun_no (when the climb, turn or event that it belongs to
-- began) in whole seconds from the session's start
-- Source: ours. What is neither climb, descent nor turn is level: a level-off for inferred_event_s after a climb or descent, a power change for as long after
-- one, and level flight for the rest, from inferred_margin_s after a turn on. A climb or descent takes precedence over a turn, and a later event over an
-- earlier one. Breaks end everything. What is not a climb, descent or turn is told from inferred_minimum_s on.
CREATE OR REPLACE TABLE found_windows AS
WITH marked AS (
    SELECT
        s.session_id,
        s.revision,
        s.stretch_no,
        s.second_no,
        COALESCE(MAX(v.kind), CASE WHEN COUNT(t.start_no) > 0 THEN 'turn' ELSE 'flat' END) AS phase,
        COALESCE(MAX(v.start_no), MAX(t.start_no), -1) AS begun_no
    FROM session_seconds AS s
    LEFT JOIN found_climbs AS v
        ON s.session_id = v.session_id AND s.revision = v.revision AND s.second_no BETWEEN v.start_no AND v.end_no
    LEFT JOIN found_turns AS t
        ON s.session_id = t.session_id AND s.revision = t.revision AND s.second_no BETWEEN t.start_no AND t.end_no
    GROUP BY s.session_id, s.revision, s.stretch_no, s.second_no
),

turned AS (
    SELECT
        *,
        COALESCE(
            phase <> LAG(phase) OVER by_time OR begun_no <> LAG(begun_no) OVER by_time OR stretch_no <> LAG(stretch_no) OVER by_time,
            TRUE
        ) AS is_begun,
        CASE WHEN stretch_no = LAG(stretch_no) OVER by_time THEN LAG(phase) OVER by_time END AS previous_phase
    FROM marked
    WINDOW by_time AS (PARTITION BY session_id, revision ORDER BY second_no)
),

numbered AS (
    SELECT
        *,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (PARTITION BY session_id, revision ORDER BY second_no) AS run_no
    FROM turned
),

entries AS (
    SELECT
        n.session_id,
        n.revision,
        n.run_no,
        MIN(n.second_no) AS entry_no,
        ARG_MIN(n.previous_phase, n.second_no) AS previous_phase
    FROM numbered AS n
    WHERE n.phase = 'flat'
    GROUP BY n.session_id, n.revision, n.run_no
),

events AS (
    SELECT
        e.session_id,
        e.revision,
        e.run_no,
        e.entry_no AS event_no,
        CASE WHEN e.previous_phase = 'turn' THEN 'margin' ELSE 'level_off' END AS event_kind
    FROM entries AS e
    WHERE e.previous_phase IN ('climb', 'descent', 'turn')
    UNION ALL
    SELECT
        p.session_id,
        p.revision,
        n.run_no,
        p.start_no AS event_no,
        'power_change' AS event_kind
    FROM found_power_changes AS p
    INNER JOIN numbered AS n
        ON p.session_id = n.session_id AND p.revision = n.revision AND p.start_no = n.second_no AND n.phase = 'flat'
),

latest AS (
    SELECT
        n.session_id,
        n.revision,
        n.stretch_no,
        n.run_no,
        n.second_no,
        n.phase,
        n.begun_no,
        MIN(n.second_no) OVER (PARTITION BY n.session_id, n.revision, n.run_no) AS flat_no,
        MAX(e.event_no) AS event_no,
        ARG_MAX(e.event_kind, (e.event_no, e.event_kind <> 'margin')) AS event_kind
    FROM numbered AS n
    CROSS JOIN limits AS l
    LEFT JOIN events AS e
        ON
            n.session_id = e.session_id AND n.revision = e.revision AND n.run_no = e.run_no
            AND n.second_no >= e.event_no
            AND n.second_no < e.event_no + CASE WHEN e.event_kind = 'margin' THEN l.inferred_margin_s ELSE l.inferred_event_s END
    GROUP BY n.session_id, n.revision, n.stretch_no, n.run_no, n.second_no, n.phase, n.begun_no
),

named AS (
    SELECT
        session_id,
        revision,
        stretch_no,
        run_no,
        second_no,
        flat_no,
        CASE WHEN phase <> 'flat' THEN phase ELSE COALESCE(event_kind, 'level') END AS kind,
        CASE WHEN phase <> 'flat' THEN begun_no ELSE COALESCE(event_no, flat_no) END AS begun_no
    FROM latest
),

begun AS (
    SELECT
        *,
        COALESCE(
            run_no <> LAG(run_no) OVER by_time OR kind <> LAG(kind) OVER by_time OR begun_no <> LAG(begun_no) OVER by_time,
            TRUE
        ) AS is_begun
    FROM named
    WINDOW by_time AS (PARTITION BY session_id, revision ORDER BY second_no)
),

parts AS (
    SELECT
        *,
        SUM(CASE WHEN is_begun THEN 1 ELSE 0 END) OVER (PARTITION BY session_id, revision ORDER BY second_no) AS part_no
    FROM begun
),

windows_found AS (
    SELECT
        session_id,
        revision,
        stretch_no,
        kind,
        MIN(second_no) AS start_no,
        MAX(second_no) + 1 AS end_no,
        MIN(flat_no) AS flat_no,
        MIN(begun_no) AS begun_no
    FROM parts
    WHERE kind <> 'margin'
    GROUP BY session_id, revision, stretch_no, kind, part_no
)

SELECT
    w.session_id,
    w.revision,
    w.stretch_no,
    w.kind,
    w.start_no,
    w.end_no,
    w.flat_no,
    w.begun_no
FROM windows_found AS w
CROSS JOIN limits AS l
WHERE
    w.kind IN ('climb', 'descent', 'turn')
    OR w.end_no - w.start_no >= l.inferred_minimum_s;
