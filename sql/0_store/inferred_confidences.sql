-- One row is how often a maneuver found in a log was what had been asked for, by kind and by how plain the signs were.
-- Inputs: none
-- Grain: kind, evidence, has_power
-- Units: confidence as a fraction
-- Source: this project's own: the share found right on the flights of the invented school, whose tasks are known; without power, power changes
-- pass for level flight. Another school's flights may differ.
CREATE OR REPLACE VIEW inferred_confidences AS
SELECT *
FROM (
    VALUES
    ('level', 'clear', TRUE, 0.85::DOUBLE),
    ('level', 'fair', TRUE, 0.8),
    ('level', 'doubtful', TRUE, 0.7),
    ('level', 'clear', FALSE, 0.6),
    ('level', 'fair', FALSE, 0.55),
    ('level', 'doubtful', FALSE, 0.6),
    ('level_off', 'clear', TRUE, 0.9),
    ('level_off', 'fair', TRUE, 0.6),
    ('level_off', 'doubtful', TRUE, 0.3),
    ('level_off', 'clear', FALSE, 0.8),
    ('level_off', 'fair', FALSE, 0.5),
    ('level_off', 'doubtful', FALSE, 0.2),
    ('power_change', 'clear', TRUE, 0.9),
    ('power_change', 'fair', TRUE, 0.6),
    ('power_change', 'doubtful', TRUE, 0.2),
    ('climb', 'clear', TRUE, 0.9),
    ('climb', 'fair', TRUE, 0.5),
    ('climb', 'clear', FALSE, 0.8),
    ('climb', 'fair', FALSE, 0.4),
    ('descent', 'clear', TRUE, 0.9),
    ('descent', 'fair', TRUE, 0.5),
    ('descent', 'clear', FALSE, 0.8),
    ('descent', 'fair', FALSE, 0.4),
    ('turn', 'clear', TRUE, 0.95),
    ('turn', 'fair', TRUE, 0.2),
    ('turn', 'clear', FALSE, 0.95),
    ('turn', 'fair', FALSE, 0.2)
) AS rows (kind, evidence, has_power, confidence);
