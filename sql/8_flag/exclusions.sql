-- One row is a session or a level maneuver that a student's standing in one aspect does not rest on, and why.
-- A TABLE: flags and lists read it many times.
-- Inputs: session_figures, maneuvers, maneuver_scores
-- Grain: student_id, aspect, session_id, maneuver_id
-- Units: none; maneuver_id is NULL where the whole session is left out
-- Source: the reasons given where sessions are counted and maneuvers scored; sessions without any level maneuver are not told here
CREATE OR REPLACE TABLE exclusions AS
SELECT
    student_id,
    aspect,
    device_class,
    session_id,
    session_date,
    CAST(NULL AS VARCHAR) AS maneuver_id,
    figure_reason AS reason
FROM session_figures
WHERE NOT is_counted AND level_count > 0
UNION ALL
SELECT
    f.student_id,
    f.aspect,
    f.device_class,
    f.session_id,
    f.session_date,
    m.maneuver_id,
    COALESCE(m.not_scored_reason, 'not scored') AS reason
FROM session_figures AS f
INNER JOIN maneuvers AS m ON f.session_id = m.session_id
WHERE f.is_counted AND m.kind = 'level' AND NOT m.is_scored
UNION ALL
SELECT
    f.student_id,
    f.aspect,
    f.device_class,
    f.session_id,
    f.session_date,
    s.maneuver_id,
    COALESCE(s.score_reason, 'found in the log of a session that has assigned maneuvers') AS reason
FROM session_figures AS f
INNER JOIN maneuver_scores AS s ON f.session_id = s.session_id AND f.aspect = s.aspect
WHERE f.is_counted AND (s.tolerance_ratio IS NULL OR NOT s.is_in_figure)
ORDER BY ALL;
