-- One row is an assigned maneuver, or, where a simulator jumped or paused in it, a part of one.
-- Inputs: assigned_maneuvers, session_breaks
-- Grain: maneuver_id
-- Units: start_s and end_s in seconds from the session's start; altitude in feet; heading in degrees magnetic
-- Source: ours. The first part keeps the maneuver's code, later ones add their number (-2, -3). After a break a level-off or a power change goes on as
-- level flight: its event was before. A break about its start, and what follows that without a second
-- flown between, make it begin later (or never: no length). A gap in the log splits nothing: its time is unobserved.
CREATE OR REPLACE VIEW assigned_parts AS
WITH breaks_within AS (
    SELECT
        m.maneuver_id,
        m.start_s,
        m.end_s,
        b.from_ms / 1000.0::DOUBLE AS from_s,
        b.to_ms / 1000.0::DOUBLE AS to_s
    FROM assigned_maneuvers AS m
    INNER JOIN session_breaks AS b
        ON
            m.session_id = b.session_id AND m.revision = b.revision
            AND b.from_ms < m.end_s * 1000 AND b.to_ms > m.start_s * 1000
    WHERE b.break_kind IN ('jump', 'pause')
),

ordered AS (
    SELECT
        *,
        from_s > GREATEST(start_s, COALESCE(MAX(to_s) OVER earlier, start_s)) AS is_apart
    FROM breaks_within
    WINDOW earlier AS (PARTITION BY maneuver_id ORDER BY from_s ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
),

numbered AS (
    SELECT
        *,
        BOOL_OR(is_apart) OVER (PARTITION BY maneuver_id ORDER BY from_s) AS is_inside
    FROM ordered
),

begun AS (
    SELECT
        maneuver_id,
        LEAST(MAX(to_s), ANY_VALUE(end_s)) AS start_s
    FROM numbered
    WHERE NOT is_inside
    GROUP BY maneuver_id
),

cuts AS (
    SELECT
        maneuver_id,
        from_s,
        to_s,
        ROW_NUMBER() OVER (PARTITION BY maneuver_id ORDER BY from_s) AS cut_no
    FROM numbered
    WHERE is_inside
),

cut_counts AS (
    SELECT
        m.maneuver_id,
        UNNEST(RANGE(0, COUNT(c.cut_no) + 1)) AS part_no
    FROM assigned_maneuvers AS m
    LEFT JOIN cuts AS c ON m.maneuver_id = c.maneuver_id
    GROUP BY m.maneuver_id
),

parts AS (
    SELECT
        m.maneuver_id,
        m.session_id,
        m.revision,
        m.kind,
        m.basis,
        p.part_no,
        COALESCE(before.to_s, g.start_s, m.start_s) AS start_s,
        COALESCE(after.from_s, m.end_s) AS end_s,
        m.target_altitude_ft,
        m.target_heading_deg,
        m.flown_by
    FROM assigned_maneuvers AS m
    INNER JOIN cut_counts AS p ON m.maneuver_id = p.maneuver_id
    LEFT JOIN begun AS g ON m.maneuver_id = g.maneuver_id
    LEFT JOIN cuts AS before ON m.maneuver_id = before.maneuver_id AND before.cut_no = p.part_no
    LEFT JOIN cuts AS after ON m.maneuver_id = after.maneuver_id AND after.cut_no = p.part_no + 1
)

SELECT
    CASE WHEN part_no = 0 THEN maneuver_id ELSE FORMAT('{}-{}', maneuver_id, part_no + 1) END AS maneuver_id,
    session_id,
    revision,
    CASE WHEN part_no > 0 AND kind IN ('level_off', 'power_change') THEN 'level' ELSE kind END AS kind,
    basis,
    start_s,
    end_s,
    target_altitude_ft,
    target_heading_deg,
    flown_by
FROM parts
WHERE part_no = 0 OR end_s > start_s;
