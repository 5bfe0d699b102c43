"""trim_contexts: what was held, and how the aeroplane moved, before a trim input."""

from tests.logs import NO_LIMITS
from tests.tables import rows_of

MOVES = """
    maneuver_id | move_no | start_s | end_s | change
    m1          | 1       | 5       | 7     | 0.05
    m1          | 2       | 1       | 2     | -0.03"""
MEANS = """
    maneuver_id | second_no | pitch_control | pitch_force | vertical_speed_fpm
    m1          | 0         | 0.00          | -           | 0
    m1          | 1         | 0.01          | -           | 100
    m1          | 2         | 0.05          | -           | 200
    m1          | 3         | 0.06          | 5           | 300
    m1          | 4         | 0.07          | 7           | 400
    m1          | 5         | 0.08          | -           | 500
    m1          | 6         | 0.20          | 99          | 900"""


def test_means_are_of_the_three_seconds_before_and_a_later_movement_does_not_count() -> None:
    rows = rows_of("trim_contexts", trim_moves=MOVES, second_means=MEANS, own_limits=NO_LIMITS)
    first, second = sorted(rows, key=lambda row: row["move_no"])
    assert round(first["control_before"], 9) == 0.07
    assert first["force_before_n"] == 6
    assert first["rate_before_fpm"] == 400
    assert first["control_moved_s"] == 2
    assert second["control_before"] == 0.005
    assert second["force_before_n"] is None
    assert second["control_moved_s"] == 2


def test_a_control_that_never_left_its_place_did_not_move_first() -> None:
    still = MEANS.strip().splitlines()[0] + "\nm1 | 0 | 0.01 | - | 0"
    [row, _] = rows_of("trim_contexts", trim_moves=MOVES, second_means=still, own_limits=NO_LIMITS)
    assert row["control_moved_s"] is None
