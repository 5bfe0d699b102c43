"""control_turns: how often an input's movement turned round."""

import pytest

from tests.tables import rows_of

HEAD = "maneuver_id | second_no | pitch_control | pitch_trim"


def turns(positions: list[object], column: str = "pitch_control", **inputs: str) -> tuple[int, int]:
    lines = [
        f"M1 | {i} | {p if column == 'pitch_control' else '-'} | {p if column == 'pitch_trim' else '-'}"
        for i, p in enumerate(positions)
    ]
    [row] = rows_of("control_turns", second_means="\n".join([HEAD, *lines]), **inputs)
    assert row["input"] == column
    return row["turns"], row["seconds"]


@pytest.mark.parametrize(
    ("positions", "expected"),
    [
        ([0], 0),
        ([0, 0.1], 0),  # one way only
        ([0, 0.1, 0.2, 0.3], 0),
        ([0, 0.1, 0], 1),
        ([0, -0.1, 0], 1),
        ([0, 0.1, 0, 0.1], 2),
        ([0, 0.015, 0, 0.015, 0], 0),  # within the dead-band of 0.02
        ([0, 0.1, 0.085, 0.1, 0.085], 0),  # a wobble on the way turns nothing
        ([0, 0.1, 0.09, 0.075], 1),  # the fall counts from the furthest point
        ([0, 0.01, 0.02, 0.03, 0.02, 0.01, 0], 1),  # slow counts too
        ([0.25, 0, 0.25, 0, 0.25], 3),
    ],
)
def test_a_movement_counts_from_the_dead_band_on(positions: list[object], expected: int) -> None:
    assert turns(positions)[0] == expected


def test_exactly_the_dead_band_is_a_movement() -> None:
    own = "name | value\ncontrol_dead_band | 0.25"
    assert turns([0, 0.25, 0], own_limits=own)[0] == 1
    assert turns([0, 0.25, 0.125], own_limits=own)[0] == 0


def test_seconds_without_a_value_are_passed_over() -> None:
    assert turns([0, "-", 0.1, "-", 0]) == (1, 3)


def test_the_trim_has_a_row_and_a_dead_band_of_its_own() -> None:
    assert turns([0, 0.1, 0], "pitch_trim") == (1, 3)
    assert turns([0, 0.1, 0], "pitch_trim", own_limits="name | value\ntrim_dead_band | 0.2") == (
        0,
        3,
    )


def test_an_input_that_was_not_logged_has_no_row() -> None:
    assert rows_of("control_turns", second_means=f"{HEAD}\nM1 | 1 | - | -") == []
