"""observations: how far each value is from the target, and how much time it stands for."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation
from tests.tables import rows_of

WINDOWS = """
    maneuver_id | session_id | revision | start_ms | end_ms | target_altitude_ft | gap_limit_ms
    M1          | S1         | 1        | 1000     | 5000   | 4000               | 1500"""
POINTS = """
    channel:text | session_id | revision | t_ms | value | previous_ms | previous_value | next_ms
    altitude     | S1         | 1        | 0    | 4000  | -           | -              | 1000
    altitude     | S1         | 1        | 1000 | 4010  | 0           | 4000           | 2000
    altitude     | S1         | 1        | 2000 | 4020  | 1000        | 4010           | 3500
    altitude     | S1         | 1        | 3500 | 3990  | 2000        | 4020           | 5001
    altitude     | S1         | 1        | 5001 | 4000  | 3500        | 3990           | -"""
NO_STARTS = "maneuver_id | reference_deg"
NO_SLOW = "session_id | revision | channel | gap_limit_ms"


def test_edges_belong_to_the_maneuver_and_weights_are_half_the_known_steps() -> None:
    assert_relation(
        "observations",
        """maneuver_id | channel  | t_s | since_start_s | value | previous_value | step_s | has_next | weight_s
           M1          | altitude | 1   | 0             | 10    | -              | -      | yes      | 0.5
           M1          | altitude | 2   | 1             | 20    | 10             | 1      | yes      | 1.25
           M1          | altitude | 3.5 | 2.5           | -10   | 20             | 1.5    | no       | 0.75""",
        maneuver_windows=WINDOWS,
        channel_points=POINTS,
        heading_starts=NO_STARTS,
        slow_channels=NO_SLOW,
    )


def test_a_step_just_longer_than_the_gap_limit_is_a_gap() -> None:
    found = rows_of(
        "observations",
        maneuver_windows=WINDOWS.replace("1500", "1499"),
        channel_points=POINTS,
        heading_starts=NO_STARTS,
        slow_channels=NO_SLOW,
    )
    assert [(r["step_s"], r["weight_s"]) for r in found] == [(None, 0.5), (1, 0.5), (None, 0)]


def test_a_slow_channel_has_its_own_gap_limit() -> None:
    found = rows_of(
        "observations",
        maneuver_windows=WINDOWS.replace("1500", "900"),
        channel_points=POINTS,
        heading_starts=NO_STARTS,
        slow_channels=f"{NO_SLOW}\nS1 | 1 | altitude | 1200\nS1 | 1 | heading | 9000",
    )
    assert [r["step_s"] for r in found] == [None, 1, None]


def test_headings_are_errors_and_other_channels_themselves() -> None:
    point = """channel:text | session_id | revision | t_ms | value | previous_ms | previous_value | next_ms
               heading      | S1         | 1        | 2000 | 370   | 1000        | 365            | -
               airspeed     | S1         | 1        | 2000 | 101   | 1000        | 100            | -"""
    assert_relation(
        "observations",
        """channel  | value | previous_value
           heading  | 10    | 5
           airspeed | 101   | 100""",
        maneuver_windows=WINDOWS,
        channel_points=point,
        heading_starts=f"{NO_STARTS}\nM1 | 360",
        slow_channels=NO_SLOW,
    )


def test_without_a_target_the_value_itself_stands() -> None:
    found = rows_of(
        "observations",
        maneuver_windows=WINDOWS.replace("4000 ", "-    "),
        channel_points=POINTS,
        heading_starts=NO_STARTS,
        slow_channels=NO_SLOW,
    )
    assert [r["value"] for r in found] == [4010, 4020, 3990]
