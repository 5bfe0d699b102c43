"""patchy_observations: the values of patchy channels, each with its neighbours in its own channel."""

from tests.expected import assert_relation, points
from tests.placed import NUMBERS, placed
from tests.tables import rows_of

MANEUVER = NUMBERS.replace("maneuver_no |", "session_id | revision | maneuver_no |").replace(
    "    1  ", "    S1 | 1 | 1  "
)
NO_SLOW = "session_id | revision | channel:text | gap_limit_ms"
NO_SPEEDS = "session_id | revision | t_ms | value"
CELLS = """t_ms | altitude_error_ft | airspeed_kt
           1000 | 5                 | 100
           2000 | -                 | 101
           3000 | 7                 | -
           6000 | 9                 | 103"""


def test_a_blank_cell_is_no_row_and_no_gap() -> None:
    assert_relation(
        "patchy_observations",
        """maneuver_no | channel  | t_ms | value | previous_value | step_ms | next_step_ms
           1           | altitude | 1000 | 5     | -              | -       | 2000
           1           | altitude | 3000 | 7     | 5              | 2000    | -
           1           | altitude | 6000 | 9     | -              | -       | -""",
        placed_samples=placed(CELLS),
        patchy_channels="maneuver_no | channel:text\n1 | altitude",
        maneuver_numbers=MANEUVER,
        slow_channels=NO_SLOW,
        derived_speeds=points(NO_SPEEDS),
    )


def test_a_slow_channel_has_its_own_gap_limit() -> None:
    rows = rows_of(
        "patchy_observations",
        placed_samples=placed(CELLS),
        patchy_channels="maneuver_no | channel:text\n1 | altitude\n1 | airspeed",
        maneuver_numbers=MANEUVER,
        slow_channels=f"{NO_SLOW}\nS1 | 1 | altitude | 3000\nS2 | 1 | airspeed | 9000",
        derived_speeds=points(NO_SPEEDS),
    )
    found = {(r["channel"], r["t_ms"]): r["step_ms"] for r in rows}
    assert (found["altitude", 6000], found["airspeed", 6000]) == (3000, None)


def test_a_heading_goes_on_past_half_a_turn() -> None:
    rows = rows_of(
        "patchy_observations",
        placed_samples=placed(
            """t_ms | heading_error_deg
               0    | 170
               1000 | 180
               2000 | -170
               3000 | -
               4000 | 10
               5000 | -170
               6000 | 170"""
        ),
        patchy_channels="maneuver_no | channel:text\n1 | heading",
        maneuver_numbers=MANEUVER,
        slow_channels=NO_SLOW,
        derived_speeds=points(NO_SPEEDS),
    )
    in_order = sorted(rows, key=lambda r: r["t_ms"])
    assert [r["value"] for r in in_order] == [170, 180, 190, 370, 550, 530]
    assert [r["previous_value"] for r in in_order] == [None, 170, 180, 190, 370, 550]


def test_derived_vertical_speeds_are_taken_from_inside_the_maneuver() -> None:
    rows = rows_of(
        "patchy_observations",
        placed_samples=placed("t_ms | altitude_error_ft\n0 | 1"),
        patchy_channels="maneuver_no | channel:text\n1 | vertical_speed",
        maneuver_numbers=MANEUVER,
        slow_channels=NO_SLOW,
        derived_speeds=points(
            f"{NO_SPEEDS}\nS1 | 1 | 10000 | 90\nS1 | 1 | 10001 | 91\nS2 | 1 | 5000 | 92"
        ),
    )
    assert [(r["channel"], r["t_ms"], r["value"]) for r in rows] == [("vertical_speed", 10_000, 90)]
