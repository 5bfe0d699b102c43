"""trim_moves: each trim input, from when to when and how far."""

import pytest

from tests.expected import assert_relation
from tests.tables import rows_of

HEAD = "maneuver_id | second_no | pitch_trim"
WINDOWS = "maneuver_id | session_id | revision | gap_limit_ms\nM1 | S1 | 1 | 1500"
NO_SLOW = "session_id | revision | channel | gap_limit_ms"
MOVES = "move_no | start_s | end_s | change"


def seconds(positions: dict[int, float]) -> str:
    return "\n".join([HEAD, *(f"M1 | {s} | {p}" for s, p in positions.items())])


def in_order(*positions: float) -> dict[int, float]:
    return dict(enumerate(positions))


@pytest.mark.parametrize(
    ("positions", "moves"),
    [
        (in_order(0), ""),
        (in_order(0, 0, 0), ""),
        (in_order(0, 0.1, 0.1), "1 | 0 | 2 | 0.1"),
        (in_order(0, 0.05, 0.1, 0.1), "1 | 0 | 3 | 0.1"),  # goes on: one input
        (in_order(0, 0.1, 0.1, 0.2), "1 | 0 | 2 | 0.1\n2 | 2 | 4 | 0.1"),  # a rest parts them
        (in_order(0, 0.1, 0), "1 | 0 | 2 | 0.1\n2 | 1 | 3 | -0.1"),  # a turn parts them
        (in_order(0, 0.01, 0.01), ""),  # within the dead-band
        (in_order(0, 0.001, 0.002, 0.003), ""),  # slower than it moves
        ({0: 0, 2: 0.1, 4: 0.1}, "1 | 0 | 3 | 0.1"),  # every other second: 1 s is no gap
        ({0: 0, 3: 0.1, 4: 0.1}, ""),  # moved in a gap: nobody knows how
        ({}, ""),
    ],
)
def test_inputs_are_parted_by_rests_and_turns(positions: dict[int, float], moves: str) -> None:
    assert_relation(
        "trim_moves",
        f"{MOVES}\n{moves}".strip(),
        second_means=seconds(positions),
        maneuver_windows=WINDOWS,
        slow_channels=NO_SLOW,
    )


def test_exactly_the_dead_band_is_an_input() -> None:
    own = "name | value\ntrim_dead_band | 0.25"
    found = rows_of(
        "trim_moves",
        second_means=seconds(in_order(0, 0.25, 0.25, 0.375)),
        maneuver_windows=WINDOWS,
        slow_channels=NO_SLOW,
        own_limits=own,
    )
    assert [r["change"] for r in found] == [0.25]


def test_a_trim_recorded_every_four_seconds_is_seen_to_move() -> None:
    found = rows_of(
        "trim_moves",
        second_means=seconds({0: 0, 4: 0.1, 8: 0.2, 12: 0.2}),
        maneuver_windows=WINDOWS,
        slow_channels=f"{NO_SLOW}\nS1 | 1 | pitch_trim | 10000",
    )
    assert [(r["start_s"], r["end_s"], r["change"]) for r in found] == [(0, 9, pytest.approx(0.2))]
