"""placed_samples: the samples of each maneuver, channels side by side, with their neighbours."""

# ruff: noqa: E501 (tables in text are wide)

import pytest

from tests.expected import assert_relation, points, stored
from tests.tables import rows_of

NUMBERS = """
    maneuver_no | session_id | revision | start_ms | end_ms | gap_limit_ms | target_altitude_ft | target_heading_deg
    1           | S1         | 1        | 1000     | 5000   | 1500         | 4000               | 90"""
SAMPLES = """
    t_ms | altitude_ft
    0    | 4000
    1000 | 4010
    2000 | 4020
    3500 | 3990
    5001 | 4000"""


def test_edges_belong_to_the_maneuver_and_no_neighbour_lies_beyond_them() -> None:
    assert_relation(
        "placed_samples",
        """maneuver_no | t_ms | step_ms | next_step_ms | altitude_error_ft | previous_altitude_error_ft
           1           | 1000 | -       | 1000         | 10                | 0
           1           | 2000 | 1000    | 1500         | 20                | 10
           1           | 3500 | 1500    | -            | -10               | 20""",
        stored_samples=stored("samples", SAMPLES),
        maneuver_numbers=points(NUMBERS),
    )


def test_a_step_just_longer_than_the_gap_limit_is_a_gap() -> None:
    rows = rows_of(
        "placed_samples",
        stored_samples=stored("samples", SAMPLES),
        maneuver_numbers=points(NUMBERS.replace("1500 ", "1499 ")),
    )
    assert [(r["step_ms"], r["next_step_ms"]) for r in rows] == [
        (None, 1000),
        (1000, None),
        (None, None),
    ]


def test_neighbours_are_of_the_same_session_and_revision() -> None:
    samples = stored(
        "samples",
        """session_id | revision | t_ms | altitude_ft
           S1         | 1        | 1000 | 4000
           S1         | 2        | 2000 | 4000
           S2         | 2        | 3000 | 4000""",
    )
    one = NUMBERS.splitlines()[2]
    second = one.replace("1 ", "2 ", 1).replace("| 1  ", "| 2  ", 1)
    third = second.replace("2 ", "3 ", 1).replace("S1", "S2")
    rows = rows_of(
        "placed_samples",
        stored_samples=samples,
        maneuver_numbers=points("\n".join([NUMBERS, second, third])),
    )
    found = sorted((r["maneuver_no"], r["step_ms"], r["next_step_ms"]) for r in rows)
    assert found == [(1, None, None), (2, None, None), (3, None, None)]


def test_a_sample_that_ends_one_maneuver_and_begins_another_belongs_to_both() -> None:
    other = "2 | S1 | 1 | 2000 | 60000 | 1500 | - | -"
    rows = rows_of(
        "placed_samples",
        stored_samples=stored("samples", "t_ms | altitude_ft\n1000 | 1\n2000 | 2\n50000 | 3"),
        maneuver_numbers=points(f"{NUMBERS.replace('5000', '2000')}\n{other}"),
    )
    assert sorted((r["maneuver_no"], r["t_ms"]) for r in rows) == [
        (1, 1000),
        (1, 2000),
        (2, 2000),
        (2, 50_000),
    ]


@pytest.mark.parametrize(
    ("before", "now", "target", "previous", "error"),
    [
        (88, 91, "90", -2, 1),
        (359, 2, "1", -2, 1),
        (2, 359, "359", 3, 0),
        (269, 270, "90", 179, 180),
        (270, 271, "90", -180, -179),  # the short way back goes on beyond half a turn
        (271, 269, "90", 181, 179),
        (0, 180, "90", -90, 90),
        (350, 10, "-", -10, 10),
        (350, 355, "-", 350, 355),
    ],
)
def test_headings_are_errors_and_the_previous_one_the_short_way_back(
    before: float, now: float, target: str, previous: float, error: float
) -> None:
    rows = rows_of(
        "placed_samples",
        stored_samples=stored("samples", f"t_ms | heading_deg\n1000 | {before}\n2000 | {now}"),
        maneuver_numbers=points(NUMBERS.replace("| 90", f"| {target}")),
    )
    found = {r["t_ms"]: r for r in rows}[2000]
    assert (found["previous_heading_error_deg"], found["heading_error_deg"]) == (previous, error)


def test_without_a_target_the_altitude_itself_stands() -> None:
    rows = rows_of(
        "placed_samples",
        stored_samples=stored("samples", SAMPLES),
        maneuver_numbers=points(NUMBERS.replace("| 4000 ", "| - ")),
    )
    assert [r["altitude_error_ft"] for r in rows] == [4010, 4020, 3990]


def test_a_blank_cell_stays_blank() -> None:
    assert_relation(
        "placed_samples",
        """t_ms | airspeed_kt | previous_airspeed_kt | pitch_control | power
           1000 | 100         | -                    | -             | 0.5
           2000 | -           | 100                  | 0.25          | 0.5""",
        stored_samples=stored(
            "samples",
            """t_ms | airspeed_kt | pitch_control | power
               1000 | 100         | -             | 0.5
               2000 | -           | 0.25          | 0.5""",
        ),
        maneuver_numbers=points(NUMBERS),
    )
