-- One row is a setting that the school changed from its default.
-- Inputs: none (the rows come from the school's settings when they are bound)
-- Grain: name
-- Units: those of settings
-- Source: the school's settings
CREATE OR REPLACE VIEW own_limits AS
SELECT
    CAST(NULL AS VARCHAR) AS name,
    CAST(NULL AS DOUBLE) AS value
WHERE FALSE;
