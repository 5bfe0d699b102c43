"""heading_starts: what to take off, so that a maneuver's first error lies in (-180, 180]."""

import pytest

from tests.tables import rows_of

WINDOW = """
    maneuver_id | session_id | revision | start_ms | end_ms | target_heading_deg
    S1.1.01     | S1         | 1        | 1000     | 9000   | """
POINTS = "session_id | revision | t_ms | value | previous_ms"


@pytest.mark.parametrize(
    ("first", "target", "error"),
    [
        (91, 90, 1),
        (359, 1, -2),
        (1, 359, 2),
        (721, 0, 1),
        (-719, 0, 1),
        (180, 0, 180),
        (-180, 0, 180),
        (270, 90, 180),
        (269.5, 90, 179.5),
        (270.5, 90, -179.5),
    ],
)
def test_the_first_error_is_wrapped_whatever_the_turns(
    first: float, target: float, error: float
) -> None:
    points = f"{POINTS}\nS1 | 1 | 1000 | {first} | 0\nS1 | 1 | 2000 | {first + 200} | 1000"
    [row] = rows_of("heading_starts", maneuver_windows=f"{WINDOW}{target}", heading_points=points)
    assert first - row["reference_deg"] == error


def test_the_first_heading_inside_the_maneuver_counts_not_the_one_before() -> None:
    points = f"{POINTS}\nS1 | 1 | 500 | 400 | -\nS1 | 1 | 1200 | 10 | 500"
    [row] = rows_of("heading_starts", maneuver_windows=f"{WINDOW}0", heading_points=points)
    assert row["reference_deg"] == 0


def test_without_a_heading_there_is_no_row() -> None:
    points = f"{POINTS}\nS1 | 1 | 9001 | 10 | -"
    assert rows_of("heading_starts", maneuver_windows=f"{WINDOW}0", heading_points=points) == []


@pytest.mark.parametrize(("first", "turns"), [(10, 0), (370, 1), (360, 1), (-0.5, -1), (-720, -2)])
def test_without_a_target_the_first_heading_lies_within_one_turn(first: float, turns: int) -> None:
    points = f"{POINTS}\nS1 | 1 | 5000 | {first} | -"
    [row] = rows_of("heading_starts", maneuver_windows=f"{WINDOW}-", heading_points=points)
    assert row["reference_deg"] == 360 * turns
