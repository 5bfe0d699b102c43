-- One row is what an export is asked to hold: single students or cells only, and which of them. Here: cells, of everything.
-- Inputs: none
-- Grain: level
-- Units: dates; null asks for all
-- Source: the options of `levelhold export`, which puts them in this relation's place
CREATE OR REPLACE VIEW export_choice AS
SELECT
    'cohort' AS level,
    CAST(NULL AS DATE) AS first_date,
    CAST(NULL AS DATE) AS last_date,
    CAST(NULL AS VARCHAR) AS asked_cohort,
    CAST(NULL AS VARCHAR) AS asked_standard_id;
