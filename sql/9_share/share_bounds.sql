-- One row is a size from which on a share is told as a bound only where it is that near to one or nought.
-- Inputs: none
-- Grain: least_students
-- Units: bound as a fraction
-- Source: the reporting rules of US education statistics (recommended by NCES 2011-603, SLDS Technical Brief 3, 2010; groups of 40 and more as restated by the Utah
-- Data Gateway's method for protecting personally identifiable information, smaller ones from memory): in a group of ten, 0.9 would be one student.
CREATE OR REPLACE VIEW share_bounds AS
SELECT
    CAST(least_students AS BIGINT) AS least_students,
    CAST(bound AS DOUBLE) AS bound
FROM (
    VALUES
    (0, 0.80),
    (20, 0.90),
    (40, 0.95),
    (100, 0.98),
    (300, 0.99)
) AS rows (least_students, bound);
