"""second_means: one row per second of a maneuver, the means of its samples."""

from tests.expected import assert_relation
from tests.placed import NUMBERS, patchy, placed
from tests.tables import rows_of

SAMPLES = placed(
    """t_ms | altitude_error_ft | airspeed_kt | pitch_trim | heading_error_deg | vertical_speed_fpm
       1500 | 10                | 102         | 0.25       | 1                 | -150
       1900 | 30                | 104         | -          | 3                 | -50
       2000 | -                 | -           | -          | -                 | -
       4000 | 100               | -           | 0.5        | -                 | -"""
)


def test_a_second_holds_the_means_of_its_samples_and_nothing_where_none_was() -> None:
    assert_relation(
        "second_means",
        """maneuver_id | second_no | altitude_error_ft | airspeed_kt | pitch_trim
           M1          | 1         | 20                | 103         | 0.25
           M1          | 2         | -                 | -           | -
           M1          | 4         | 100               | -           | 0.5""",
        placed_samples=SAMPLES,
        patchy_observations=patchy(),
        maneuver_numbers=NUMBERS,
    )


def test_headings_past_half_a_turn_and_derived_speeds_come_from_their_own_observations() -> None:
    own = """channel:text   | t_ms | value
             heading        | 1500 | 361
             heading        | 1900 | 363
             vertical_speed | 4000 | 70
             airspeed       | 1500 | 999"""
    assert_relation(
        "second_means",
        """second_no | heading_error_deg | vertical_speed_fpm | airspeed_kt
           1         | 362               | -100               | 103
           2         | -                 | -                  | -
           4         | -                 | 70                 | -""",
        placed_samples=SAMPLES,
        patchy_observations=patchy(own),
        maneuver_numbers=NUMBERS,
    )


def test_an_autopilot_that_was_on_for_a_moment_was_on_in_that_second() -> None:
    samples = placed("t_ms | altitude_error_ft\n1500 | 1\n1600 | 2")
    column = samples.schema.get_field_index("autopilot")
    [row] = rows_of(
        "second_means",
        placed_samples=samples.set_column(column, "autopilot", [[False, True]]),
        patchy_observations=patchy(),
        maneuver_numbers=NUMBERS,
    )
    assert (row["is_autopilot_on"], row["is_on_ground"]) == (True, None)


def test_no_samples_no_seconds() -> None:
    rows = rows_of(
        "second_means",
        placed_samples=placed(),
        patchy_observations=patchy(),
        maneuver_numbers=NUMBERS,
    )
    assert rows == []


def test_before_the_sessions_start_seconds_are_counted_backwards() -> None:
    assert_relation(
        "second_means",
        """second_no | altitude_error_ft
           -2        | 10
           -1        | 30
           0         | 100""",
        placed_samples=placed(
            """t_ms  | altitude_error_ft
               -1500 | 10
               -900  | 20
               -100  | 40
               100   | 100"""
        ),
        patchy_observations=patchy(),
        maneuver_numbers=NUMBERS,
    )
