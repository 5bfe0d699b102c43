"""device_health: what operations should look at."""

# ruff: noqa: E501 (tables in text are wide)

from datetime import date

import pyarrow as pa
import pytest

from tests.logs import NO_LIMITS
from tests.tables import rows_of, table


def words(rows: str, **columns: list[str | None]) -> pa.Table:
    """A text table with columns of words added."""
    found = table(rows)
    for name, values in columns.items():
        found = found.append_column(name, pa.array(values, pa.string()))
    return found


INPUTS = {
    "as_of": "as_of_date\n2026-03-31",
    "sessions": """
        session_id | device_id | revision | session_date
        s1         | D1        | 1        | 2026-03-01
        s2         | D1        | 1        | 2026-03-02
        s3         | D1        | 1        | 2026-04-05
        old        | D9        | 1        | 2025-11-01""",
    "control_neutrals": words(
        "device_id | session_date | neutral | neutral_reason\nD1 | 2026-03-02 | 0.06 | -\nD1 | 2026-03-02 | - | few\nD1 | 2026-03-01 | 0 | -",
        input=["pitch_control", "roll_control", "pitch_control"],
    ),
    "control_steps": words(
        "device_id | session_date | step\nD1 | 2026-02-20 | 0.06\nD1 | 2026-04-04 | 0.5",
        input=["pitch_control"] * 2,
    ),
    "control_moves": words(
        "device_id | session_date | student_count\nD1 | 2026-02-20 | 5\nD1 | 2026-03-01 | 4\nD1 | 2025-11-01 | 9",
        input=["pitch_control", "roll_control", "roll_control"],
    ),
    "sensor_biases": words(
        "device_id | session_date | bias | bias_reason\nD1 | 2026-03-02 | -45 | -\nD1 | 2026-03-02 | 0.2 | -",
        sensor=["vertical speed", "bank"],
        unit_words=["ft/min", "deg"],
    ).rename_columns(["device_id", "session_date", "bias", "bias_reason", "sensor", "unit"]),
    "channel_steps": """
        session_id | revision | channel       | resolution
        s1         | 1        | altitude      | 1
        s2         | 1        | altitude      | 25
        s3         | 1        | altitude      | 100
        s1         | 1        | heading       | 0.1
        s1         | 1        | airspeed      | 5""",
    "session_gates": words("session_id | affected\ns1 | 4\ns2 | 9", severity=["suspect", "note"]),
    "own_limits": NO_LIMITS,
}


def test_each_check_of_a_device_is_told_as_of_the_date() -> None:
    rows = rows_of("device_health", **INPUTS)
    found = {r["device_check"]: (r["value"], r["is_well"]) for r in rows}
    assert {r["device_id"] for r in rows} == {"D1"}
    assert found == {
        "pitch control at rest": (0.06, False),
        "roll control at rest": (None, None),
        "pitch control stepped": (0.06, False),
        "roll control stepped": (None, None),
        "vertical speed reads off": (-45, False),
        "bank reads off": (pytest.approx(0.2), True),
        "altitude in steps of": (13, False),
        "heading in steps of": (pytest.approx(0.1), True),
        "sessions with a suspect channel": (1, False),
    }
    steps = {r["device_check"]: r["since_date"] for r in rows}
    assert steps["pitch control stepped"] == date(2026, 2, 20)
    assert {r["session_count"] for r in rows} == {2}


def test_a_step_that_was_looked_for_and_not_seen_is_none_and_one_that_could_not_be_seen_is_not_told() -> (
    None
):
    moves = "device_id | session_date | student_count\nD1 | 2026-02-20 | 4\nD1 | 2026-03-01 | 5"
    given = {
        **INPUTS,
        "control_moves": words(moves, input=["pitch_control", "roll_control"]),
        "control_steps": words("device_id | session_date | step\nD9 | 2026-02-20 | 1", input=["x"]),
    }
    told = {
        r["device_check"]: (r["value"], r["is_well"], r["device_reason"])
        for r in rows_of("device_health", **given)
        if r["device_check"].endswith("stepped")
    }
    assert told == {
        "pitch control stepped": (None, None, "no day with 5 students on both sides of it"),
        "roll control stepped": (0, True, None),
    }
