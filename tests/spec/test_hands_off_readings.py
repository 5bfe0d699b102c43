"""hands_off_readings: stretches in which nobody moved the control."""

# ruff: noqa: E501 (tables in text are wide)

import math
from collections.abc import Callable, Collection
from typing import Any

import pytest

from tests.tables import rows_of

WINDOW = """
    maneuver_id | session_id | revision | kind  | start_s | end_s | target_altitude_ft | device_id | session_date | gap_limit_ms
    M1          | S1         | 1        | level | 0       | 200   | 4000               | D1        | 2026-03-01   | 1500"""
CONTROLS = "session_id | revision | control\nS1 | 1 | centring"
NEUTRALS = "device_id | session_date | pitch_neutral\nD1 | 2026-03-01 | 0.03"
NO_SLOW = "session_id | revision | channel:text | gap_limit_ms"
SECONDS = "maneuver_id | second_no | altitude_error_ft | vertical_speed_fpm | airspeed_kt | pitch_control | is_autopilot_on"

Signal = Callable[[int], float | str]


def stretches(
    control: Signal = lambda s: 0.03,
    altitude: Signal = lambda s: 0,
    speed: Signal = lambda s: "-",
    airspeed: Signal = lambda s: 100,
    autopilot: Collection[int] = (),
    seconds: Collection[int] = range(120),
    **inputs: str,
) -> list[dict[str, Any]]:
    lines = [SECONDS]
    lines += [
        f"M1 | {s} | {altitude(s)} | {speed(s)} | {airspeed(s)} | {control(s)} | {'yes' if s in autopilot else '-'}"
        for s in seconds
    ]
    given = {
        "maneuver_windows": WINDOW,
        "session_controls": CONTROLS,
        "bound_neutrals": NEUTRALS,
        "slow_channels": NO_SLOW,
        "second_means": "\n".join(lines),
    }
    return rows_of("hands_off_readings", **{**given, **inputs})


def spans(rows: list[dict[str, Any]]) -> list[tuple[float, float]]:
    return [(r["start_s"], r["end_s"]) for r in rows]


def test_a_control_at_rest_is_one_stretch() -> None:
    assert spans(stretches()) == [(0, 120)]


@pytest.mark.parametrize(("length", "count"), [(50, 1), (49, 0)])
def test_fifty_seconds_make_a_stretch(length: int, count: int) -> None:
    assert len(stretches(seconds=range(length))) == count


def test_a_control_away_from_neutral_is_held() -> None:
    assert stretches(control=lambda s: 0.0801) == []
    assert spans(stretches(control=lambda s: 0.0799)) == [(0, 120)]
    assert spans(stretches(control=lambda s: 0.5 if s == 60 else 0.03)) == [(0, 60), (61, 120)]


def test_a_control_that_moves_within_the_limit_is_not_left_alone() -> None:
    # swings by 0.035 every 6 s about neutral: never within 0.02 of its own mean for long
    assert stretches(control=lambda s: 0.03 + (0.035 if s // 6 % 2 else -0.035)) == []
    assert spans(stretches(control=lambda s: 0.03 + (0.009 if s % 2 else -0.009))) == [(0, 120)]


def test_the_own_mean_is_that_of_the_last_ten_seconds() -> None:
    # at 60 s the control moves by 0.022: nine old seconds and a new one have their mean 0.0198 off,
    # eleven would have it 0.02 off exactly
    def moved(s: int) -> float:
        return 0.03 + (0.022 if s >= 60 else 0)

    assert spans(stretches(control=moved)) == [(0, 120)]
    shorter = "name | value\nhands_off_mean_s | 12"
    assert spans(stretches(control=moved, own_limits=shorter)) == [(0, 60), (61, 120)]


def test_what_an_autopilot_holds_nobody_let_go() -> None:
    assert spans(stretches(autopilot=range(60, 70))) == [(0, 60), (70, 120)]


def test_a_missing_second_is_no_gap_but_two_are() -> None:
    assert spans(stretches(seconds=[s for s in range(120) if s != 60])) == [(0, 120)]
    found = stretches(seconds=[s for s in range(120) if s not in (60, 61)])
    assert spans(found) == [(0, 60), (62, 120)]
    slow = f"{NO_SLOW}\nS1 | 1 | pitch_control | 5000"
    assert spans(stretches(seconds=range(0, 120, 4), slow_channels=slow)) == [(0, 117)]


def test_a_stretch_begins_and_ends_with_its_maneuver() -> None:
    window = WINDOW.replace("| 0       | 200 ", "| 0.5     | 119.5 ")
    assert spans(stretches(maneuver_windows=window)) == [(0.5, 119.5)]


def test_wander_is_the_furthest_from_the_stretchs_own_mean() -> None:
    [row] = stretches(altitude=lambda s: 100 + (30 if s < 60 else -10))
    assert row["wander_ft"] == pytest.approx(20)


def test_the_period_is_twice_the_mean_time_between_passages() -> None:
    [row] = stretches(speed=lambda s: 50 + 200 * math.sin(2 * math.pi * (s + 0.5) / 24))
    assert row["period_s"] == pytest.approx(24)


def test_a_vertical_speed_at_its_mean_is_no_passage() -> None:
    [row] = stretches(speed=lambda s: [100, 0, -100, -100, 0, 100][s // 10 % 6])
    # passages at 20, 50, 80 and 110 s: the seconds at the mean are neither side
    assert row["period_s"] == pytest.approx(60)


def test_fewer_than_three_passages_tell_no_period() -> None:
    [row] = stretches(speed=lambda s: 100 if 40 <= s < 80 else -100)
    assert row["period_s"] is None


def test_lanchesters_period_is_that_of_the_true_airspeed() -> None:
    [row] = stretches(altitude=lambda s: -4000)  # at sea level indicated is true
    assert row["lanchester_period_s"] == pytest.approx(23.307, abs=1e-3)
    [high] = stretches(altitude=lambda s: 6000)  # 10,000 ft: density ratio 0.7385
    assert high["lanchester_period_s"] == pytest.approx(23.307 / 0.7385**0.5, rel=1e-3)
    [silent] = stretches(airspeed=lambda s: "-")
    assert silent["lanchester_period_s"] is None


@pytest.mark.parametrize(
    "inputs",
    [
        {"session_controls": CONTROLS.replace("centring", "free")},
        {"bound_neutrals": NEUTRALS.replace("0.03", "-")},
        {"bound_neutrals": NEUTRALS.replace("2026-03-01", "2026-03-02")},
        {"maneuver_windows": WINDOW.replace("level", "climb")},
    ],
)
def test_without_a_neutral_a_centring_stick_or_level_flight_there_is_none(
    inputs: dict[str, str],
) -> None:
    nobody: dict[str, Any] = {**inputs}
    assert stretches(**nobody) == []
