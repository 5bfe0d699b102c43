-- One row is a maneuver with a target heading and the whole turns to take off its unwrapped headings, so that its first error lies in (-180, 180].
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
    WHERE w.target_heading_deg IS NOT NULL AND (p.previous_ms IS NULL OR p.previous_ms < w.start_ms)
    GROUP BY w.maneuver_id, w.target_heading_deg
)

SELECT
    maneuver_id,
    target_heading_deg + 360 * CEIL((first_deg - target_heading_deg - 180) / 360) AS reference_deg
FROM first_headings;
