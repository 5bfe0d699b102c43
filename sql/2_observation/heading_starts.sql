-- One row is a maneuver and what to take off its unwrapped headings: the target and whole turns, so that its first error lies in (-180, 180];
-- without a target whole turns alone, so that its first heading lies in [0, 360).
-- A TABLE: every reading of headings joins it.
-- Inputs: heading_points, maneuver_windows
-- Grain: maneuver_id
-- Units: reference_deg in degrees: what to subtract from an unwrapped heading
-- Source: ours; an error of exactly half a turn counts as +180
CREATE OR REPLACE TABLE heading_starts AS
WITH first_headings AS (
    SELECT
        w.maneuver_id,
        w.target_heading_deg,
        ARG_MIN(p.value, p.t_ms) AS first_deg
    FROM heading_points AS p
    INNER JOIN maneuver_windows AS w
        ON
            p.session_id = w.session_id AND p.revision = w.revision
            AND p.t_ms >= w.start_ms AND p.t_ms <= w.end_ms
    WHERE p.previous_ms IS NULL OR p.previous_ms < w.start_ms
    GROUP BY w.maneuver_id, w.target_heading_deg
)

SELECT
    maneuver_id,
    CASE
        WHEN target_heading_deg IS NULL THEN 360 * FLOOR(first_deg / 360)
        ELSE target_heading_deg + 360 * CEIL((first_deg - target_heading_deg - 180) / 360)
    END AS reference_deg
FROM first_headings;
