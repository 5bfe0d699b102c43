"""event_samples, air_seconds: samples and seconds in stored order, for what looks at neighbours."""

from tests.expected import assert_relation, points, stored
from tests.tables import rows_of

WINDOWS = points(
    """maneuver_id | session_id | revision | kind      | start_ms | end_ms
       M1          | S1         | 1        | level_off | 20000    | 40000
       M2          | S1         | 1        | turn      | 41000    | 50000
       M3          | S1         | 1        | level     | 0        | 90000"""
)


def test_samples_of_events_lie_in_order_of_maneuver_and_time() -> None:
    times = [4_000, 5_000, 20_000, 40_000, 40_999, 41_000, 60_000, 60_001]
    text = "t_ms | altitude_ft\n" + "\n".join(f"{t} | {t}" for t in times)
    rows = rows_of(
        "event_samples", stored_samples=stored("samples", text), maneuver_windows=WINDOWS
    )
    found = [(r["maneuver_id"], r["t_ms"], r["second_no"]) for r in rows]
    assert found == [
        ("M1", 5_000, 5),
        ("M1", 20_000, 20),
        ("M1", 40_000, 40),
        ("M2", 41_000, 41),
        ("M2", 60_000, 60),
    ]


def test_air_is_read_from_vertical_speed_else_from_altitude_and_from_pitch_else_the_control() -> (
    None
):
    sessions = """channels | session_id
                  altitude_ft, vertical_speed_fpm, pitch_deg, pitch_control | S1
                  altitude_ft, pitch_control | S2
                  altitude_ft | S3"""
    samples = """session_id | t_ms | altitude_ft | vertical_speed_fpm | pitch_deg | pitch_control
                 S2         | 0    | 10          | -                  | -         | 0.25
                 S1         | 0    | 10          | 100                | 2         | 0.5
                 S1         | 500  | 20          | 200                | 4         | 0.5
                 S1         | 1000 | 20          | 300                | -         | 0.5
                 S3         | 0    | 10          | -                  | -         | -"""
    assert_relation(
        "air_seconds",
        """session_id | second_no | vertical_speed_fpm | altitude_ft | cause
           S1         | 0         | 150                | -           | 3
           S1         | 1         | 300                | -           | -
           S2         | 0         | -                  | 10          | 0.25
           S3         | 0         | -                  | 10          | 0""",
        stored_samples=stored("samples", samples),
        stored_sessions=stored("sessions", sessions),
    )


def test_a_level_off_before_the_sessions_start_has_its_samples_too() -> None:
    early = points(
        """maneuver_id | session_id | revision | kind      | start_ms | end_ms
           M1          | S1         | 1        | level_off | -30000   | 500"""
    )
    times = [-45_001, -45_000, -17_500, -500, 500, 501]
    text = "t_ms | altitude_ft\n" + "\n".join(f"{t} | {t}" for t in times)
    rows = rows_of("event_samples", stored_samples=stored("samples", text), maneuver_windows=early)
    found = [(r["t_ms"], r["second_no"]) for r in rows]
    assert found == [(-45_000, -45), (-17_500, -18), (-500, -1), (500, 0)]


def test_seconds_of_the_air_are_counted_backwards_before_the_sessions_start() -> None:
    assert_relation(
        "air_seconds",
        """second_no | altitude_ft
           -1        | 10
           0         | 20""",
        stored_samples=stored("samples", "t_ms | altitude_ft\n-500 | 10\n500 | 20"),
        stored_sessions=stored("sessions", "channels | session_id\naltitude_ft | S1"),
    )
