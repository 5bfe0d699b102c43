-- One row is a tolerance of the school's own: a standard, a channel and the band either side of the target.
-- Inputs: none (the rows come from the school's settings when they are bound)
-- Grain: standard_id, channel
-- Units: tolerance in the unit that the row names
-- Source: the school's settings
CREATE OR REPLACE VIEW own_standards AS
SELECT
    CAST(NULL AS VARCHAR) AS standard_id,
    CAST(NULL AS VARCHAR) AS channel,
    CAST(NULL AS DOUBLE) AS tolerance,
    CAST(NULL AS VARCHAR) AS unit
WHERE FALSE;
