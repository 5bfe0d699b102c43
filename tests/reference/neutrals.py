"""Where each device's stick rests, and what a student held against it."""

import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from tests.reference.sessions import Limits


@dataclass(frozen=True)
class LevelControl:
    """The mean pitch control of one scored level maneuver."""

    device_id: str
    student_id: str
    session_date: date
    pitch_control: float


def rounded_away(value: float, step: float) -> float:
    """The nearest multiple of `step`; halfway goes away from zero."""
    whole = int(abs(value) / step + 0.5)
    return whole * step if value >= 0 else -whole * step


def device_neutral(
    device_id: str, day: date, controls: Iterable[LevelControl], limits: Limits
) -> dict[str, Any]:
    """The median of the students' medians over the days up to `day`; None from too few students."""
    first = day - timedelta(days=round(limits["neutral_window_days"]) - 1)
    by_student: dict[str, list[float]] = {}
    for c in controls:
        if c.device_id == device_id and first <= c.session_date <= day:
            by_student.setdefault(c.student_id, []).append(c.pitch_control)
    medians = [statistics.median(values) for values in by_student.values()]
    count = len(medians)
    if not medians:
        return {"pitch_neutral": None, "spread": None, "neutral_se": None, "student_count": 0}
    middle = statistics.median(medians)
    spread = 1.4826 * statistics.median([abs(m - middle) for m in medians])
    has_enough = count >= limits["neutral_minimum_students"]
    return {
        "pitch_neutral": (
            rounded_away(middle, limits["neutral_resolution"]) if has_enough else None
        ),
        "spread": spread,
        "neutral_se": 1.2533 * spread / count**0.5,
        "student_count": count,
    }


def control_kind(device_id: str | None, day: date, devices: Iterable[Mapping[str, Any]]) -> str:
    """centring or free, by the newest line of the device list that held on that day; else centring.

    Of two lines with the same valid_from the one that came with the later batch counts.
    """
    held = [
        (d["valid_from"] or date.min, d["batch_id"], d["control"])
        for d in devices
        if d["device_id"] == device_id and (d["valid_from"] is None or d["valid_from"] <= day)
    ]
    return str(max(held)[2]) if held else "centring"
