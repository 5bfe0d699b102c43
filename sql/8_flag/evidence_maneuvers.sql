-- One row is a maneuver on which a student's present standing rests in one aspect and stratum: those of the latest sessions that count.
-- A TABLE: flags, faults and pages read it.
-- Inputs: current_levels, session_figures, maneuver_scores, limits
-- Grain: student_id, aspect, stratum, maneuver_id
-- Units: ago in sessions (0 is the latest); tolerance_ratio: 1 is the edge of the standard
-- Source: the last flag_recent_sessions sessions that count; older ones weigh too, but less
CREATE OR REPLACE TABLE evidence_maneuvers AS
SELECT
    c.student_id,
    c.aspect,
    c.stratum,
    m.maneuver_id,
    f.session_id,
    f.session_date,
    c.session_no - f.session_no AS ago,
    m.tolerance_ratio,
    m.basis
FROM current_levels AS c
CROSS JOIN limits AS k
INNER JOIN session_figures AS f
    ON
        c.student_id = f.student_id
        AND c.aspect = f.aspect
        AND c.stratum = f.stratum
        AND f.session_no > c.session_no - k.flag_recent_sessions
INNER JOIN maneuver_scores AS m ON f.session_id = m.session_id AND f.aspect = m.aspect
WHERE f.is_counted AND m.is_in_figure AND m.tolerance_ratio IS NOT NULL
ORDER BY c.student_id, c.aspect, c.stratum, m.maneuver_id;
