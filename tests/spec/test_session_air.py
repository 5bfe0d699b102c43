"""session_air: declared, detected and used air of a session."""

import pyarrow as pa
import pytest

from tests.logs import NO_LIMITS
from tests.tables import rows_of

READINGS = pa.schema(
    [
        ("session_id", pa.string()),
        ("revision", pa.int64()),
        ("seconds", pa.int64()),
        ("explained_by", pa.string()),
        ("altitude_step_ft", pa.float64()),
        ("vertical_shake_fpm", pa.float64()),
        ("airspeed_seconds", pa.int64()),
        ("airspeed_shake_kt", pa.float64()),
    ]
)


def air(
    declared: str = "-",
    step_s: str = "0.25",
    reading: str = "s1 | 1 | 500 | pitch attitude | - | 5 | 500 | 0.1",
) -> dict[str, object]:
    sessions = f"session_id | revision | air | median_step_s\ns1 | 1 | {declared} | {step_s}"
    cells = [None if cell == "-" else cell for cell in reading.split(" | ")]
    row = pa.table(
        [pa.array([cell]).cast(f.type) for cell, f in zip(cells, READINGS, strict=True)],
        schema=READINGS,
    )
    [found] = rows_of("session_air", sessions=sessions, air_readings=row, own_limits=NO_LIMITS)
    return found


@pytest.mark.parametrize(
    ("shake", "expected"),
    [("18.9", "smooth"), ("19", "light"), ("36.9", "light"), ("37", "moderate"), ("65", "rough")],
)
def test_the_limits_belong_to_the_rougher_side(shake: str, expected: str) -> None:
    row = air(reading=f"s1 | 1 | 500 | pitch attitude | - | {shake} | 500 | 0.1")
    assert row["detected_air"] == expected
    assert row["used_air"] == expected
    assert row["is_rougher"] == (expected in ("moderate", "rough"))


def test_the_rougher_of_declared_and_detected_is_used_and_calm_air_is_as_declared() -> None:
    rough = "s1 | 1 | 500 | pitch attitude | - | 80 | 500 | 0.1"
    assert air("light", reading=rough)["used_air"] == "rough"
    assert air("moderate")["used_air"] == "moderate"
    assert air("moderate")["is_rougher"] is True
    assert air("light")["used_air"] == "light"
    assert air("light")["detected_air"] == "smooth"


def test_without_pitch_the_airspeed_tells_and_then_the_control_with_wider_limits() -> None:
    by_airspeed = air(reading="s1 | 1 | 500 | pitch control | - | 90 | 500 | 0.81")
    assert (by_airspeed["shake_of"], by_airspeed["detected_air"]) == ("airspeed", "moderate")
    by_control = air(reading="s1 | 1 | 500 | pitch control | - | 40 | 0 | -")
    assert (by_control["shake_of"], by_control["detected_air"]) == (
        "vertical speed less pitch control",
        "light",
    )


@pytest.mark.parametrize(
    ("step_s", "reading", "reason"),
    [
        (
            "2",
            "s1 | 1 | 500 | pitch attitude | - | 90 | 500 | 0.1",
            "samples are too far apart to show the air",
        ),
        (
            "0.25",
            "s1 | 1 | 500 | - | - | 90 | 0 | -",
            "neither pitch, pitch control nor airspeed logged",
        ),
        (
            "0.25",
            "s1 | 1 | 500 | pitch attitude | 25 | 90 | 0 | -",
            "altitude too coarse to show the air",
        ),
        ("0.25", "s1 | 1 | 100 | pitch attitude | - | 90 | 100 | 0.1", "too short to show the air"),
        ("0.25", "other | 1 | 500 | pitch attitude | - | 90 | 500 | 0.1", "not measured"),
    ],
)
def test_air_that_cannot_be_told_says_why_and_is_as_declared(
    step_s: str, reading: str, reason: str
) -> None:
    row = air("smooth", step_s, reading)
    assert row["detected_air"] is None
    assert row["air_shake"] is None
    assert row["air_reason"] == reason
    assert row["used_air"] == "smooth"
    assert row["is_rougher"] is False
