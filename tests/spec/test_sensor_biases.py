"""sensor_biases: two readings of one motion that disagree."""

import pytest

from tests.logs import NO_LIMITS
from tests.tables import build_over

SESSIONS = """
    session_id | student_id | device_id | session_date
    s1         | A          | D1        | 2026-03-01
    s2         | B          | D1        | 2026-03-01
    s3         | C          | D1        | 2026-03-01"""
MANEUVERS = """
    maneuver_id | session_id | is_scored
    m1          | s1         | yes
    m2          | s2         | yes
    m3          | s3         | yes"""
SUMS = """
    maneuver_id | channel        | mean | drift_per_min | median
    m1          | altitude       | 0    | 10            | -
    m2          | altitude       | 0    | -20           | -
    m3          | altitude       | 0    | 0             | -
    m1          | vertical_speed | 60   | -             | -
    m2          | vertical_speed | 20   | -             | -
    m3          | vertical_speed | 45   | -             | -
    m1          | heading        | 0    | 0             | -
    m2          | heading        | 0    | 180           | -
    m1          | bank           | 2    | -             | -
    m2          | bank           | 17.3 | -             | -
    m1          | airspeed       | 0    | -             | 100
    m2          | airspeed       | 0    | -             | 100"""


def test_vertical_speed_is_held_against_altitude_and_bank_against_the_turn() -> None:
    """180 deg per minute at 100 kt takes 15.36 deg of bank."""
    con = build_over(
        ["limits"], sessions=SESSIONS, maneuvers=MANEUVERS, channel_sums=SUMS, own_limits=NO_LIMITS
    )
    con.execute(
        "CREATE TABLE with_channels AS SELECT *, ['vertical_speed_fpm'] AS channels FROM sessions"
    )
    listed = con.sql("FROM with_channels").to_arrow_table()
    inputs = {
        "maneuvers": MANEUVERS,
        "channel_sums": SUMS,
        "own_limits": NO_LIMITS,
        "sessions": listed,
    }
    rows = build_over(["sensor_biases"], **inputs).sql("FROM sensor_biases").pl().to_dicts()
    found = {r["sensor"]: r for r in rows}
    assert found["vertical speed"]["bias"] == pytest.approx(45)
    assert found["vertical speed"]["student_count"] == 3
    assert found["bank"]["bias"] is None
    assert found["bank"]["bias_reason"] == "flown level by fewer than 3 students"
    assert found["bank"]["spread"] == pytest.approx(1.4826 * abs(2 - (17.3 - 15.36)) / 2, abs=0.01)
