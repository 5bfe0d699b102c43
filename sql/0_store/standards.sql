-- One row is a published or own tolerance for level flight: a standard, a channel and the band either side of the target.
-- Inputs: own_standards
-- Grain: standard_id, channel
-- Units: tolerance in the unit that the row names
-- Source: each row names document, edition and task; always check the current edition. A school's own standard of the same name takes the
-- place of a shipped one.
CREATE OR REPLACE VIEW standards AS
WITH shipped AS (
    SELECT *
    FROM (
        VALUES
        ('first-lessons', 'altitude', 200, 'ft', 'this project''s own, no source', NULL, 'straight and level, first lessons', 'own'),
        ('first-lessons', 'heading', 20, 'deg', 'this project''s own, no source', NULL, 'straight and level, first lessons', 'own'),
        ('first-lessons', 'airspeed', 15, 'kt', 'this project''s own, no source', NULL, 'straight and level, first lessons', 'own'),
        ('faa-private-instruments', 'altitude', 200, 'ft', 'FAA-S-ACS-6', 'as restated in secondary sources', 'PA.VIII.A straight-and-level flight by instruments', 'secondary'),
        ('faa-private-instruments', 'heading', 20, 'deg', 'FAA-S-ACS-6', 'as restated in secondary sources', 'PA.VIII.A straight-and-level flight by instruments', 'secondary'),
        ('faa-private-instruments', 'airspeed', 10, 'kt', 'FAA-S-ACS-6', 'as restated in secondary sources', 'PA.VIII.A straight-and-level flight by instruments', 'secondary'),
        ('faa-instrument', 'altitude', 100, 'ft', 'FAA-S-ACS-8', 'as restated in secondary sources', 'IR.IV.A instrument flight', 'secondary'),
        ('faa-instrument', 'heading', 10, 'deg', 'FAA-S-ACS-8', 'as restated in secondary sources', 'IR.IV.A instrument flight', 'secondary'),
        ('faa-instrument', 'airspeed', 10, 'kt', 'FAA-S-ACS-8', 'as restated in secondary sources', 'IR.IV.A instrument flight', 'secondary'),
        ('faa-private-slow-flight', 'altitude', 100, 'ft', 'FAA-S-ACS-6', 'as restated in secondary sources', 'PA.VII.A slow flight, straight and level included', 'secondary'),
        ('faa-private-slow-flight', 'heading', 10, 'deg', 'FAA-S-ACS-6', 'as restated in secondary sources', 'PA.VII.A slow flight, straight and level included', 'secondary'),
        ('easa-ppl', 'altitude', 150, 'ft', 'AMC1 FCL.235', 'as restated in secondary sources', 'PPL(A) skill test, height', 'secondary'),
        ('easa-ppl', 'heading', 10, 'deg', 'AMC1 FCL.235', 'as restated in secondary sources', 'PPL(A) skill test, heading', 'secondary'),
        ('easa-ppl', 'airspeed', 15, 'kt', 'AMC1 FCL.235', 'as restated in secondary sources', 'PPL(A) skill test, speed outside take-off and approach', 'secondary'),
        ('easa-ir-proficiency', 'altitude', 100, 'ft', 'Part-FCL Appendix 9 B', 'read in the regulation', 'class or type rating and IR proficiency check', 'primary'),
        ('easa-ir-proficiency', 'heading', 5, 'deg', 'Part-FCL Appendix 9 B', 'read in the regulation', 'class or type rating and IR proficiency check', 'primary'),
        ('casa-professional', 'altitude', 100, 'ft', 'CASR Part 61 MOS, Schedule 8', 'as restated in secondary sources', 'straight and level, professional level', 'secondary'),
        ('casa-professional', 'heading', 5, 'deg', 'CASR Part 61 MOS, Schedule 8', 'as restated in secondary sources', 'straight and level, professional level', 'secondary'),
        ('casa-professional', 'airspeed', 10, 'kt', 'CASR Part 61 MOS, Schedule 8', 'as restated in secondary sources', 'straight and level, professional level', 'secondary'),
        ('casa-limited-panel', 'altitude', 200, 'ft', 'CASR Part 61 MOS, Schedule 8', 'as restated in secondary sources', 'straight and level, limited panel', 'secondary'),
        ('casa-limited-panel', 'heading', 15, 'deg', 'CASR Part 61 MOS, Schedule 8', 'as restated in secondary sources', 'straight and level, limited panel', 'secondary'),
        ('casa-limited-panel', 'airspeed', 10, 'kt', 'CASR Part 61 MOS, Schedule 8', 'as restated in secondary sources', 'straight and level, limited panel', 'secondary')
    ) AS rows (standard_id, channel, tolerance, unit, document, edition, task, verification)
)

SELECT
    standard_id,
    channel,
    CAST(tolerance AS DOUBLE) AS tolerance,
    unit,
    document,
    edition,
    task,
    verification
FROM shipped
WHERE standard_id NOT IN (SELECT standard_id FROM own_standards)
UNION ALL
SELECT
    standard_id,
    channel,
    tolerance,
    unit,
    'the school''s own' AS document,
    NULL AS edition,
    'straight and level' AS task,
    'own' AS verification
FROM own_standards;
