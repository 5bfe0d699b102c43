"""second_means: one row per second of a maneuver, the means of its samples."""

from tests.expected import assert_relation, points, stored
from tests.tables import rows_of

WINDOW = """
    maneuver_id | session_id | revision | start_ms | end_ms | target_altitude_ft
    M1          | S1         | 1        | 1500     | 4000   | 4000"""
NONE = "session_id | revision | t_ms | value"
STARTS = "maneuver_id | reference_deg"
SAMPLES = stored(
    "samples",
    """t_ms | altitude_ft | airspeed_kt | pitch_trim | is_nothing
       1000 | 9000        | 100         | -          | -
       1500 | 4010        | 102         | 0.25       | -
       1900 | 4030        | 104         | -          | -
       2000 | -           | -           | -          | -
       4000 | 4100        | -           | 0.5        | -
       4001 | 9000        | 200         | -          | -""",
)


def test_only_samples_inside_the_maneuver_count_its_edges_too() -> None:
    assert_relation(
        "second_means",
        """maneuver_id | second_no | altitude_error_ft | airspeed_kt | pitch_trim | vertical_speed_fpm
           M1          | 1         | 20                | 103         | 0.25       | -
           M1          | 2         | -                 | -           | -          | -
           M1          | 4         | 100               | -           | 0.5        | -""",
        stored_samples=SAMPLES,
        maneuver_windows=WINDOW,
        vertical_speed_points=NONE,
        heading_points=NONE,
        heading_starts=STARTS,
    )


def test_headings_and_vertical_speeds_are_averaged_from_their_own_points() -> None:
    assert_relation(
        "second_means",
        """second_no | heading_error_deg | vertical_speed_fpm
           1         | 2                 | -100
           2         | -                 | -
           4         | -                 | -""",
        stored_samples=SAMPLES,
        maneuver_windows=WINDOW,
        vertical_speed_points=points(
            f"{NONE}\nS1 | 1 | 1500 | -150\nS1 | 1 | 1900 | -50\nS1 | 1 | 1000 | 999"
        ),
        heading_points=points(f"{NONE}\nS1 | 1 | 1500 | 361\nS1 | 1 | 1900 | 363"),
        heading_starts=f"{STARTS}\nM1 | 360",
    )


def test_without_a_target_altitudes_stand_themselves() -> None:
    rows = rows_of(
        "second_means",
        stored_samples=SAMPLES,
        maneuver_windows=WINDOW.replace("| 4000   | 4000", "| 4000   | -"),
        vertical_speed_points=NONE,
        heading_points=NONE,
        heading_starts=STARTS,
    )
    assert [r["altitude_error_ft"] for r in rows] == [4020, None, 4100]


def test_an_autopilot_that_was_on_for_a_moment_was_on_in_that_second() -> None:
    text = "t_ms | altitude_ft | is_on\n1500 | 1 | -\n1600 | 2 | -"
    samples = stored("samples", text)
    column = samples.schema.get_field_index("autopilot")
    samples = samples.set_column(column, "autopilot", [[False, True]])
    [row] = rows_of(
        "second_means",
        stored_samples=samples,
        maneuver_windows=WINDOW,
        vertical_speed_points=NONE,
        heading_points=NONE,
        heading_starts=STARTS,
    )
    assert (row["is_autopilot_on"], row["is_on_ground"]) == (True, None)


def test_no_samples_no_seconds() -> None:
    rows = rows_of(
        "second_means",
        stored_samples=stored("samples"),
        maneuver_windows=WINDOW,
        vertical_speed_points=NONE,
        heading_points=NONE,
        heading_starts=STARTS,
    )
    assert rows == []
