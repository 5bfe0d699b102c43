"""control_steps: a stick that was replaced, told from students who changed."""

from datetime import date, timedelta

import pyarrow as pa
import pytest

from tests.logs import NO_LIMITS
from tests.tables import rows_of

START = date(2026, 2, 2)


def steps(*flown: tuple[str, int, float]) -> list[dict[str, object]]:
    """Control steps of flights given as (student, day, mean pitch control)."""
    ids = [f"s{i}" for i in range(len(flown))]
    sessions = pa.table(
        {
            "session_id": ids,
            "student_id": [student for student, _, _ in flown],
            "device_id": ["D1"] * len(flown),
            "session_date": [START + timedelta(days=day) for _, day, _ in flown],
            "control": ["centring"] * len(flown),
        }
    )
    maneuvers = pa.table({"maneuver_id": ids, "session_id": ids, "is_scored": [True] * len(flown)})
    sums = pa.table(
        {
            "maneuver_id": ids,
            "channel": ["pitch_control"] * len(flown),
            "mean": [mean for _, _, mean in flown],
        }
    )
    return rows_of(
        "control_steps",
        sessions=sessions,
        maneuvers=maneuvers,
        channel_sums=sums,
        own_limits=NO_LIMITS,
    )


STUDENTS = "ABCDE"


def test_a_stick_replaced_is_a_step_on_the_first_day_after() -> None:
    flown = [
        (student, day + i, 0.01 * i + (0.06 if day + i >= 20 else 0.0))
        for i, student in enumerate(STUDENTS)
        for day in (0, 8, 20, 28)
    ]
    [row] = steps(*flown)
    assert row["session_date"] == START + timedelta(days=20)
    assert row["step"] == pytest.approx(0.06)
    assert row["student_count"] == 5


def test_other_students_on_other_days_are_no_step() -> None:
    early = [(student, day, 0.0) for student in "ABCDE" for day in (0, 5, 10)]
    late = [(student, day, 0.1) for student in "FGHIJ" for day in (20, 25, 30)]
    assert steps(*early, *late) == []


def test_one_student_who_learns_to_trim_is_no_step() -> None:
    flown = [(student, day, 0.0) for student in "ABCD" for day in (0, 10, 20, 30)]
    learner = [("E", day, 0.1 if day < 20 else 0.0) for day in (0, 10, 20, 30)]
    assert steps(*flown, *learner) == []


def test_four_students_are_too_few() -> None:
    flown = [
        (student, day, 0.06 if day >= 20 else 0.0) for student in "ABCD" for day in (0, 10, 20, 30)
    ]
    assert steps(*flown) == []
