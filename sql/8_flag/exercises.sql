-- One row is a fault of the flying and the one exercise that is suggested for it; the instructor's judgement comes first.
-- Inputs: none
-- Grain: fault
-- Units: none
-- Source: common practice of instruction in straight-and-level flight and trimming
CREATE OR REPLACE VIEW exercises AS
SELECT
    fault,
    exercise
FROM (
    VALUES
    ('held_pull', 'After each change of power or speed: hold the attitude, trim nose up until the pull is gone, let go, watch, repeat.'),
    ('held_push', 'After each change of power or speed: hold the attitude, trim nose down until the push is gone, let go, watch, repeat.'),
    ('held_both_ways', 'Fly two-minute level legs with two fingers on the control: set the attitude, trim, let go for ten seconds, trim again.'),
    ('trim_wrong_way', 'Say the force before moving the wheel: pulling, trim nose up; pushing, trim nose down; then let go, watch, repeat.'),
    ('flying_by_trim', 'Fly level-offs with the attitude first: hold it with the control until the needle rests, and only then trim.'),
    ('overshoot', 'Lead each level-off by a tenth of the rate of climb or descent: attitude, power, trim.'),
    ('chasing', 'Fly level legs by attitude with the vertical-speed indicator covered; let a trimmed aeroplane breathe within 100 ft.'),
    ('late_trim', 'Fly level-offs and power changes in a row: control first, then trim within the next half minute, hands off to check.'),
    ('altitude_with_pull', 'Trim before judging the altitude: hold the attitude, trim nose up until the pull is gone, then fly the level leg.'),
    ('altitude_with_push', 'Trim before judging the altitude: hold the attitude, trim nose down until the push is gone, then fly the level leg.'),
    ('altitude_chasing', 'Fly level legs by attitude with the vertical-speed indicator covered: one small change, wait, look, then the next.'),
    ('altitude_high', 'Fly level legs and correct back down to the assigned altitude, at a rate of about twice the error, rather than hold what is there.'),
    ('altitude_low', 'Fly level legs and correct back up to the assigned altitude, at a rate of about twice the error, rather than hold what is there.'),
    ('altitude_off', 'Say the assigned altitude and the error aloud every fifteen seconds, and correct at a rate of about twice the error.'),
    ('altitude_overshoot', 'Lead each level-off by a tenth of the rate of climb or descent, then settle on the assigned altitude before trimming.'),
    ('altitude_drift', 'Fly level legs watching the vertical-speed indicator for the first steady movement: small change of attitude, then trim.'),
    ('altitude_spread', 'Fly two-minute level legs by attitude: set it, trim, then only small corrections, at a rate of about twice the error.'),
    ('heading_north', 'Fly level legs on headings either side of north (350, 360, 010), saying the error and the short way to turn before correcting.'),
    ('heading_heavy_wing', 'Check wings level and the ball, look for a heavy wing, and carry it with a little aileron or roll trim on long level legs.'),
    ('heading_drift_right', 'Fly long level legs on a reference ahead: wings level first, the ball, then the heading; look for a heavy right wing.'),
    ('heading_drift_left', 'Fly long level legs on a reference ahead: wings level first, the ball, then the heading; look for a heavy left wing.'),
    ('heading_off', 'Say the assigned heading and the error aloud every fifteen seconds, and correct with no more bank than the error in degrees.'),
    ('heading_drift', 'Fly long level legs on a reference ahead: wings level first, then the heading, no more bank than the error in degrees.'),
    ('heading_spread', 'Fly level legs with a scan of attitude, heading, attitude, altitude, and no more bank than the heading error in degrees.')
) AS rows (fault, exercise);
