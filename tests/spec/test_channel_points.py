"""channel_points: each channel's own values with their neighbours in time."""

from tests.expected import assert_relation, stored
from tests.tables import rows_of

HEADINGS = "channel | session_id | revision | t_ms | value | previous_ms | previous_value | next_ms"
NO_POINTS = HEADINGS.replace("channel |", "").strip()
SAMPLES = stored(
    "samples",
    """session_id | revision | t_ms | altitude_ft | airspeed_kt | pitch_control
       S1         | 1        | 0    | 4000        | 100         | -
       S1         | 1        | 1000 | 4010        | -           | -
       S1         | 1        | 2000 | 4020        | 102         | 0.5
       S1         | 2        | 0    | 5000        | -           | -
       S1         | 2        | 1000 | 5010        | -           | -
       S2         | 1        | 500  | 6000        | -           | -""",
)
OTHERS = {"heading_points": NO_POINTS, "vertical_speed_points": NO_POINTS}


def test_a_blank_cell_is_no_point_and_neighbours_skip_it() -> None:
    found = rows_of("channel_points", stored_samples=SAMPLES, **OTHERS)
    airspeed = [
        (r["t_ms"], r["previous_ms"], r["next_ms"]) for r in found if r["channel"] == "airspeed"
    ]
    assert airspeed == [(0, None, 2000), (2000, 0, None)]


def test_neighbours_are_of_the_same_session_and_revision() -> None:
    found = rows_of("channel_points", stored_samples=SAMPLES, **OTHERS)
    altitude = [r for r in found if r["channel"] == "altitude"]
    assert [(r["value"], r["previous_ms"], r["next_ms"]) for r in altitude] == [
        (4000, None, 1000),
        (4010, 0, 2000),
        (4020, 1000, None),
        (5000, None, 1000),
        (5010, 0, None),
        (6000, None, None),
    ]


def test_a_lone_value_has_no_neighbours() -> None:
    [lone] = [
        r
        for r in rows_of("channel_points", stored_samples=SAMPLES, **OTHERS)
        if r["channel"] == "pitch_control"
    ]
    assert (lone["value"], lone["previous_ms"], lone["next_ms"]) == (0.5, None, None)


def test_no_samples_give_no_points() -> None:
    assert rows_of("channel_points", stored_samples=stored("samples"), **OTHERS) == []


def test_headings_and_vertical_speeds_come_from_their_own_relations() -> None:
    point = f"{NO_POINTS}\nS1 | 1 | 0 | 361 | - | - | -"
    assert_relation(
        "channel_points",
        f"{HEADINGS}\nheading | S1 | 1 | 0 | 361 | - | - | -",
        stored_samples=stored("samples"),
        heading_points=point,
        vertical_speed_points=NO_POINTS,
    )
