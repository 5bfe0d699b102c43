-- One row is a stage of training, in the school's own word, and the standard that its students are held to.
-- Inputs: none (the rows come from the school's settings when they are bound; a stage without a row gets first-lessons)
-- Grain: stage
-- Units: none
-- Source: the school's settings
CREATE OR REPLACE VIEW stage_standards AS
SELECT
    CAST(NULL AS VARCHAR) AS stage,
    CAST(NULL AS VARCHAR) AS standard_id
WHERE FALSE;
