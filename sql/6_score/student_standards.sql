-- One row is a student and the standard that the student's current stage is held to.
-- Inputs: students, stage_standards
-- Grain: student_id
-- Units: none
-- Source: the school's settings; a student without a stage, or with one that the settings do not map, is held to first-lessons,
-- and standard_reason says so.
CREATE OR REPLACE VIEW student_standards AS
SELECT
    p.student_id,
    p.stage,
    COALESCE(g.standard_id, 'first-lessons') AS standard_id,
    CASE
        WHEN g.standard_id IS NOT NULL THEN NULL
        WHEN p.stage IS NULL THEN 'no stage in the roster: held to first-lessons'
        ELSE 'the settings name no standard for stage ' || p.stage || ': held to first-lessons'
    END AS standard_reason
FROM students AS p
LEFT JOIN stage_standards AS g ON p.stage = g.stage;
