-- One row is a code for why a figure is missing, and the reasons of this program (as patterns) that it stands for; the first that fits counts.
-- Inputs: none
-- Grain: code_no
-- Units: none
-- Source: ours. Reasons may hold an instructor's words or a device's code, so an export holds codes only; a reason that fits no pattern is "other".
CREATE OR REPLACE VIEW missing_codes AS
SELECT
    code_no,
    reason_pattern,
    missing_code,
    missing_meaning
FROM (
    VALUES
    (1, 'set aside%', 'set_aside', 'set aside by an instructor'),
    (2, 'data check%', 'data_check', 'a check of the log is against it'),
    (3, 'only level maneuvers are scored', 'not_level', 'not a level maneuver: measured, not scored'),
    (4, 'shorter than%', 'too_short', 'the maneuver was too short to score'),
    (5, 'flown by the instructor', 'not_student', 'flown by the instructor'),
    (6, 'autopilot engaged', 'autopilot', 'an autopilot was engaged'),
    (7, 'on the ground', 'on_ground', 'on the ground'),
    (8, 'observed for only%', 'unobserved', 'too much of the time was not observed'),
    (9, '%observed for less than the scored share', 'unobserved', 'too much of the time was not observed'),
    (10, 'fewer than two neighbouring samples', 'unobserved', 'too much of the time was not observed'),
    (11, 'vertical speed not observed', 'unobserved', 'too much of the time was not observed'),
    (12, 'no target%', 'no_target', 'no target was asked for'),
    (13, 'no neutral%', 'no_neutral', 'where the control rests is not known for the device and day'),
    (14, 'device not named', 'no_neutral', 'where the control rests is not known for the device and day'),
    (15, 'a free control shows no force%', 'free_control', 'a control that does not centre shows no held force'),
    (16, '%too far apart%', 'coarse', 'the recorder was too slow or too coarse'),
    (17, '%too coarse%', 'coarse', 'the recorder was too slow or too coarse'),
    (18, 'no % recorded', 'not_logged', 'the channel was not logged'),
    (19, '%not logged%', 'not_logged', 'the channel was not logged'),
    (20, '%has no tolerance for%', 'no_tolerance', 'the standard has no tolerance for the channel'),
    (21, 'no level maneuver%', 'no_level', 'no level maneuver was flown, or none could be scored'),
    (22, 'rougher air%', 'rougher_air', 'moderate or rough air'),
    (23, 'only % scored level maneuver%', 'too_few', 'too few scored level maneuvers in the session'),
    (24, 'the neutral of device%', 'no_neutral', 'where the control rests is not known for the device and day'),
    (25, '%not measured%', 'not_measured', 'not measured'),
    (26, 'not followed', 'not_followed', 'rougher air, not flown by the student, set aside, or a check of the log is against it'),
    (27, '%', 'other', 'another reason, kept by the school')
) AS rows (code_no, reason_pattern, missing_code, missing_meaning);
