"""device_neutrals: where each device's stick rests, from the level flights of the last 90 days."""

from typing import Any

import pytest

from tests.tables import rows_of

SESSIONS = "session_id | student_id | device_id | session_date"
MANEUVERS = "maneuver_id | session_id | is_scored"
SUMS = "maneuver_id | channel:text | mean"


def neutrals(flights: str, **inputs: str) -> dict[tuple[str, str], dict[str, Any]]:
    """By device and day, from lines `student day mean` (device D1, scored, unless said otherwise)."""
    sessions, maneuvers, sums = [SESSIONS], [MANEUVERS], [SUMS]
    for i, line in enumerate(flights.strip().splitlines()):
        student, day, mean, *more = line.split()
        sessions.append(f"S{i} | {student} | {more[0] if more else 'D1'} | {day}")
        maneuvers.append(f"M{i} | S{i} | {'no' if 'unscored' in more else 'yes'}")
        sums.append(f"M{i} | pitch_control | {mean}")
    rows = rows_of(
        "device_neutrals",
        sessions="\n".join(sessions),
        maneuvers="\n".join(maneuvers),
        channel_sums="\n".join(sums),
        **inputs,
    )
    return {(r["device_id"], r["session_date"].isoformat()): r for r in rows}


def test_three_students_tell_a_neutral_rounded_to_half_a_hundredth() -> None:
    row = neutrals("A 2026-03-01 0.021\nB 2026-03-01 0.034\nC 2026-03-01 0.1")["D1", "2026-03-01"]
    assert row["pitch_neutral"] == pytest.approx(0.035)
    assert (row["student_count"], row["neutral_reason"]) == (3, None)
    # distances from 0.034: 0.013, 0, 0.066; their median is 0.013
    assert row["spread"] == pytest.approx(1.4826 * 0.013)
    assert row["neutral_se"] == pytest.approx(1.2533 * 1.4826 * 0.013 / 3**0.5)


def test_a_student_who_flew_often_weighs_as_much_as_one_who_flew_once() -> None:
    often = "\n".join(["A 2026-03-01 0.5"] * 5)
    row = neutrals(f"{often}\nB 2026-03-01 0.02\nC 2026-03-01 0.03")["D1", "2026-03-01"]
    assert row["pitch_neutral"] == pytest.approx(0.03)


def test_two_students_cannot_tell_a_device_from_its_flyers() -> None:
    row = neutrals("A 2026-03-01 0.02\nB 2026-03-01 0.03")["D1", "2026-03-01"]
    assert (row["pitch_neutral"], row["student_count"]) == (None, 2)
    assert row["neutral_reason"] == "flown level by fewer than 3 students"


def test_flights_of_the_last_ninety_days_up_to_the_day_count() -> None:
    # 2026-03-31 less 89 days is 2026-01-01
    flights = "A 2026-01-01 0.02\nB 2026-03-30 0.02\nC 2026-03-31 0.02"
    assert neutrals(flights)["D1", "2026-03-31"]["pitch_neutral"] == pytest.approx(0.02)
    older = flights.replace("2026-01-01", "2025-12-31")
    assert neutrals(older)["D1", "2026-03-31"]["student_count"] == 2
    assert (
        neutrals(flights)["D1", "2026-03-30"]["student_count"] == 2
    )  # what comes later is unknown


def test_another_device_or_an_unscored_maneuver_tells_nothing() -> None:
    flights = (
        "A 2026-03-01 0.02\nB 2026-03-01 0.02\nC 2026-03-01 0.02 D2\nD 2026-03-01 0.02 D1 unscored"
    )
    found = neutrals(flights)
    assert found["D1", "2026-03-01"]["student_count"] == 2
    assert found["D2", "2026-03-01"]["student_count"] == 1


def test_a_day_without_any_level_flight_says_so() -> None:
    row = neutrals("A 2026-03-01 - D1")["D1", "2026-03-01"]
    assert (row["pitch_neutral"], row["student_count"], row["spread"]) == (None, 0, None)
    assert row["neutral_reason"] == "no level maneuver with a pitch control"


def test_how_many_students_it_takes_is_a_setting() -> None:
    own = "name | value\nneutral_minimum_students | 1\nneutral_resolution | 0.01"
    row = neutrals("A 2026-03-01 0.026", own_limits=own)["D1", "2026-03-01"]
    assert row["pitch_neutral"] == pytest.approx(0.03)
