"""Where a device's controls rest and whether that stepped, and how its sensors read."""

import math
import statistics
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from tests.reference.sessions import Limits

Row = dict[str, Any]
Rows = dict[tuple[Any, ...], Row]

KNOT_FT_PER_S = 1852 / 0.3048 / 3600
GRAVITY_FT_PER_S2 = 32.174


@dataclass(frozen=True)
class Reading:
    """One figure of a scored level maneuver: of a control (`part` its channel) or of a sensor."""

    device_id: str
    student_id: str
    session_date: date
    part: str
    value: float


def is_within(day: date, last: date, limits: Limits) -> bool:
    """Whether a day is one of the neutral_window_days up to `last`."""
    return last - timedelta(days=limits["neutral_window_days"]) < day <= last


def _by_student(readings: Iterable[Reading]) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for r in readings:
        found.setdefault(r.student_id, []).append(r.value)
    return found


def _deviation(values: Sequence[float]) -> float:
    """The median absolute deviation, scaled to the standard deviation of normal values."""
    middle = statistics.median(values)
    return 1.4826 * statistics.median(abs(v - middle) for v in values)


def _too_few(count: int, limits: Limits) -> str | None:
    least = limits["neutral_minimum_students"]
    return f"flown level by fewer than {least:.0f} students" if count < least else None


def _middles(
    days: Collection[tuple[str, date]], readings: Sequence[Reading], limits: Limits
) -> Iterable[tuple[tuple[Any, ...], list[float], int]]:
    """Per device, day and part the students' medians over the days up to it, and of how many figures."""
    for device, day in days:
        near = [
            r for r in readings if r.device_id == device and is_within(r.session_date, day, limits)
        ]
        for part in {r.part for r in near}:
            own = _by_student(r for r in near if r.part == part)
            medians = [statistics.median(values) for values in own.values()]
            yield (device, day, part), medians, sum(map(len, own.values()))


def control_neutrals_of(
    days: Collection[tuple[str, date]], controls: Sequence[Reading], limits: Limits
) -> Rows:
    """The rows of `control_neutrals`."""
    found: Rows = {}
    for key, medians, count in _middles(days, controls, limits):
        spread, reason = _deviation(medians), _too_few(len(medians), limits)
        found[key] = {
            "neutral": None if reason else statistics.median(medians),
            "spread": spread,
            "neutral_se": 1.2533 * spread / math.sqrt(len(medians)),
            "student_count": len(medians),
            "maneuver_count": count,
            "neutral_reason": reason,
        }
    return found


def sensor_biases_of(
    days: Collection[tuple[str, date]], readings: Sequence[Reading], limits: Limits
) -> Rows:
    """The rows of `sensor_biases`."""
    found: Rows = {}
    for key, medians, _ in _middles(days, readings, limits):
        reason = _too_few(len(medians), limits)
        found[key] = {
            "unit": {"vertical speed": "ft/min", "bank": "deg"}[key[2]],
            "bias": None if reason else statistics.median(medians),
            "spread": _deviation(medians),
            "student_count": len(medians),
            "bias_reason": reason,
        }
    return found


def bank_of_turn(deg_per_min: float, airspeed_kt: float) -> float:
    """The bank in degrees of a level turn: tan(bank) = turn rate x speed / g."""
    rate = math.radians(deg_per_min) / 60
    return math.degrees(math.atan(rate * airspeed_kt * KNOT_FT_PER_S / GRAVITY_FT_PER_S2))


def control_moves_of(controls: Sequence[Reading], limits: Limits) -> Rows:
    """The rows of `control_moves`."""
    reach = timedelta(days=limits["neutral_step_days"])
    found: Rows = {}
    for device, part, day in {(r.device_id, r.part, r.session_date) for r in controls}:
        own = [r for r in controls if (r.device_id, r.part) == (device, part)]
        moved = []
        for student in sorted({r.student_id for r in own}):
            mine = [r for r in own if r.student_id == student]
            before = _daily(r for r in mine if day - reach <= r.session_date < day)
            after = _daily(r for r in mine if day <= r.session_date < day + reach)
            if before and after:
                moved.append(statistics.fmean(after) - statistics.fmean(before))
        found[device, part, day] = {
            "step": statistics.median(moved) if moved else None,
            "mean_step": statistics.fmean(moved) if moved else None,
            "step_se": 1.2533 * _deviation(moved) / math.sqrt(len(moved)) if moved else None,
            "student_count": len(moved),
        }
    return found


def _daily(readings: Iterable[Reading]) -> list[float]:
    """A student's median of each day."""
    days: dict[date, list[float]] = {}
    for r in readings:
        days.setdefault(r.session_date, []).append(r.value)
    return [statistics.median(values) for values in days.values()]


def control_steps_of(moves: Mapping[tuple[Any, ...], Row], limits: Limits) -> Rows:
    """The rows of `control_steps`: of neighbouring days that stepped the one with the greatest mean."""
    reach = timedelta(days=limits["neutral_step_days"])
    groups: list[list[tuple[Any, ...]]] = []
    for key in sorted(key for key, move in moves.items() if _is_step(move, limits)):
        last = groups[-1][-1] if groups else None
        if last and last[:2] == key[:2] and key[2] - last[2] <= reach:
            groups[-1].append(key)
        else:
            groups.append([key])
    found: Rows = {}
    for group in groups:
        best = max(group, key=lambda key: abs(moves[key]["mean_step"]))
        found[best] = {n: moves[best][n] for n in ("step", "step_se", "student_count")}
    return found


def _is_step(move: Row, limits: Limits) -> bool:
    if move["student_count"] < limits["neutral_step_students"]:
        return False
    return bool(abs(move["step"]) >= max(limits["neutral_step"], 3 * move["step_se"]))
