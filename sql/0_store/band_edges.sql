-- One row is an edge of a band: a channel and how far from the target the edge lies, above (positive) or below (negative).
-- A TABLE: a few rows that planning would otherwise work out anew in every query that reads them.
-- Inputs: standards, limits
-- Grain: channel, edge
-- Units: edge in the channel's unit (ft, deg, kt, fpm)
-- Source: once and twice each tolerance in standards; near_zero_vertical_speed_fpm for vertical speed
CREATE OR REPLACE TABLE band_edges AS
WITH widths AS (
    SELECT
        channel,
        tolerance AS width
    FROM standards
    UNION
    SELECT
        channel,
        2 * tolerance AS width
    FROM standards
    UNION
    SELECT
        'vertical_speed' AS channel,
        near_zero_vertical_speed_fpm AS width
    FROM limits
)

SELECT
    channel,
    width AS edge
FROM widths
WHERE width IS NOT NULL
UNION ALL
SELECT
    channel,
    -width AS edge
FROM widths
WHERE width IS NOT NULL;
