-- One row is a student whose rows may be released, and what may be shown of the student's quasi-identifiers. Here there are none.
-- Inputs: none
-- Grain: student_id
-- Units: none
-- Source: pipeline/export/masking.py, which puts its decision in this relation's place; null is masked
CREATE OR REPLACE VIEW shown_traits AS
SELECT
    CAST(NULL AS VARCHAR) AS student_id,
    CAST(NULL AS VARCHAR) AS cohort,
    CAST(NULL AS VARCHAR) AS standard_id,
    CAST(NULL AS VARCHAR) AS device_class
WHERE FALSE;
