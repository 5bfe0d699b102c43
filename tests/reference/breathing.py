"""How a hands-off stretch's breathing died out, and why the stretch ended."""

import math
from itertools import pairwise
from typing import Any

from tests.reference.excursions import second_means
from tests.reference.sessions import Limits, Window

TOO_FEW = "too few swings above the noise"
UNEVEN = "swings too uneven to tell a damping"


def breathing_of(window: Window, start_s: float, end_s: float, limits: Limits) -> dict[str, Any]:
    """The figures of `hands_off` that breathing_readings gives, the air not looked at."""
    altitude = second_means(window, "altitude")
    seconds = {s: a for s, a in altitude.items() if math.floor(start_s) <= s < end_s}
    ratio, error, reason = _damping(_extremes(seconds, limits["breathing_swing_ft"]), limits)
    return {
        "damping_ratio": None if reason else ratio,
        "damping_se": None if reason else error,
        "damping_reason": reason,
        "end_cause": _end_cause(window, seconds, end_s, limits),
    }


def _extremes(seconds: dict[int, float], swing_ft: float) -> list[tuple[int, float]]:
    """The extreme of each whole half cycle about the stretch's own line: its second and how far off."""
    if len(seconds) < 2:
        return []
    mean_s = sum(seconds) / len(seconds)
    mean_ft = math.fsum(seconds.values()) / len(seconds)
    spread = sum((s - mean_s) ** 2 for s in seconds)
    rise = math.fsum((s - mean_s) * (a - mean_ft) for s, a in seconds.items()) / spread
    halves: list[list[tuple[int, float]]] = []
    side = 0
    for second, value in seconds.items():
        off = value - mean_ft - rise * (second - mean_s)
        here = side if abs(off) < swing_ft else (1 if off > 0 else -1)
        if here != side:
            halves.append([])
        side = here
        if side:
            halves[-1].append((second, off))
    return [max(half, key=lambda p: abs(p[1]) * _agrees(p[1], half)) for half in halves[1:-1]]


def _agrees(off: float, half: list[tuple[int, float]]) -> int:
    """1 on the half cycle's own side, -1 on the other; a half cycle begins on its own side."""
    return 1 if (off > 0) == (half[0][1] > 0) else -1


def _damping(
    extremes: list[tuple[int, float]], limits: Limits
) -> tuple[float | None, float | None, str | None]:
    swings = [abs(b - a) for (_, a), (_, b) in pairwise(extremes)]
    if len(swings) < limits["breathing_swings"]:
        return None, None, TOO_FEW
    times = [b - a for (a, _), (b, _) in pairwise(extremes)]
    logs = [math.log(s) for s in swings]
    middle = (len(logs) - 1) / 2
    mean = math.fsum(logs) / len(logs)
    spread = sum((i - middle) ** 2 for i in range(len(logs)))
    fall = math.fsum((i - middle) * (y - mean) for i, y in enumerate(logs)) / spread
    left = math.fsum((y - mean - fall * (i - middle)) ** 2 for i, y in enumerate(logs))
    error = math.sqrt(left / (len(logs) - 2) / spread) / math.pi
    is_uneven = max(times) > limits["breathing_evenness"] * min(times)
    decrement = -2 * fall
    ratio = decrement / math.sqrt(4 * math.pi**2 + decrement**2)
    return ratio, error, UNEVEN if is_uneven or error > limits["damping_se_maximum"] else None


def _end_cause(
    window: Window, seconds: dict[int, float], end_s: float, limits: Limits
) -> str | None:
    if end_s >= window.end_s - 1:
        return "end of the maneuver"
    if not any(t // 1000 == math.ceil(end_s) and window.is_inside(t) for t in window.session.t_ms):
        return "gap"
    if not seconds:
        return None
    last_ft = abs(seconds[max(seconds)])
    return "called for" if last_ft > limits["settle_altitude_ft"] else "needless"
