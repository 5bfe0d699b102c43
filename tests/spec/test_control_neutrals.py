"""control_neutrals: where each control of a device rests."""

from datetime import date

import pytest

from tests.logs import NO_LIMITS
from tests.tables import rows_of

SESSIONS = """
    session_id | student_id | device_id | session_date | control
    s1         | A          | D1        | 2026-03-01   | centring
    s2         | B          | D1        | 2026-03-01   | centring
    s3         | C          | D1        | 2026-03-02   | centring
    s4         | C          | D1        | 2026-03-02   | centring
    s5         | A          | D2        | 2026-03-02   | free
    s6         | B          | D2        | 2026-03-02   | free
    s7         | C          | D2        | 2026-03-02   | free
    s8         | C          | D1        | 2026-07-01   | centring"""
MANEUVERS = """
    maneuver_id | session_id | is_scored
    m1          | s1         | yes
    m2          | s2         | yes
    m3          | s3         | yes
    m4          | s4         | yes
    m5          | s4         | no
    m6          | s5         | yes
    m7          | s6         | yes
    m8          | s7         | yes"""
SUMS = """
    maneuver_id | channel       | mean
    m1          | pitch_control | 0.01
    m2          | pitch_control | 0.05
    m3          | pitch_control | 0.02
    m4          | pitch_control | 0.04
    m5          | pitch_control | 0.90
    m1          | roll_control  | -0.02
    m2          | roll_control  | -0.01
    m3          | roll_control  | 0.00
    m6          | pitch_control | 0.2
    m7          | pitch_control | 0.2
    m8          | pitch_control | 0.2
    m6          | roll_control  | 0.1
    m7          | roll_control  | 0.2
    m8          | roll_control  | 0.3"""


def neutrals() -> dict[tuple[str, date, str], dict[str, object]]:
    rows = rows_of(
        "control_neutrals",
        sessions=SESSIONS,
        maneuvers=MANEUVERS,
        channel_sums=SUMS,
        own_limits=NO_LIMITS,
    )
    return {(r["device_id"], r["session_date"], r["input"]): r for r in rows}


def test_the_neutral_is_the_median_of_the_students_medians_up_to_the_day() -> None:
    found = neutrals()
    pitch = found["D1", date(2026, 3, 2), "pitch_control"]
    assert pitch["neutral"] == pytest.approx(0.03)  # A 0.01, B 0.05, C (0.02 + 0.04) / 2
    assert pitch["spread"] == pytest.approx(1.4826 * 0.02)
    assert pitch["student_count"] == 3
    assert pitch["maneuver_count"] == 4
    assert found["D1", date(2026, 3, 2), "roll_control"]["neutral"] == pytest.approx(-0.01)


def test_too_few_students_tell_nothing() -> None:
    early = neutrals()["D1", date(2026, 3, 1), "pitch_control"]
    assert early["neutral"] is None
    assert early["neutral_reason"] == "flown level by fewer than 3 students"


def test_older_flights_are_forgotten() -> None:
    assert ("D1", date(2026, 7, 1), "pitch_control") not in neutrals()


def test_a_free_yokes_pitch_has_no_neutral_but_its_roll_has() -> None:
    found = neutrals()
    assert ("D2", date(2026, 3, 2), "pitch_control") not in found
    assert found["D2", date(2026, 3, 2), "roll_control"]["neutral"] == pytest.approx(0.2)
