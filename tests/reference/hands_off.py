"""Hands-off stretches: how far the aeroplane wandered by itself, and how slowly it breathed."""

import math
from itertools import pairwise
from typing import Any

from tests.reference.excursions import second_means
from tests.reference.sessions import Limits, Window


def hands_off_of(window: Window, neutral: float, limits: Limits) -> list[dict[str, Any]]:
    """The stretches of a maneuver in which nobody moved the control, in order of time."""
    control = second_means(window, "pitch_control")
    autopilot = {
        t // 1000
        for t, on in zip(window.session.t_ms, window.session.columns["autopilot"], strict=True)
        if on and window.is_inside(t)
    }
    at_neutral = {s for s, v in control.items() if abs(v - neutral) <= limits["settle_control"]}
    still = [s for s in sorted(at_neutral - autopilot) if _is_still(control, at_neutral, s, limits)]
    stretches: list[list[int]] = []
    for second in still:
        if stretches and _goes_on(window, control, stretches[-1][-1], second):
            stretches[-1].append(second)
        else:
            stretches.append([second])
    found = [_stretch_figures(window, seconds, limits) for seconds in stretches]
    return [f for f in found if f["end_s"] - f["start_s"] >= limits["hands_off_minimum_s"]]


def _is_still(control: dict[int, float], at_neutral: set[int], second: int, limits: Limits) -> bool:
    """Within a little of the mean of the last ten seconds that were at neutral."""
    first = second - round(limits["hands_off_mean_s"]) + 1
    recent = [control[s] for s in at_neutral if first <= s <= second]
    return abs(control[second] - sum(recent) / len(recent)) <= limits["hands_off_still"]


def _goes_on(window: Window, control: dict[int, float], last: int, second: int) -> bool:
    """Whether no moving second and no gap lies between two still seconds."""
    is_gap = (second - last - 1) * 1000 >= window.session.gap_ms("pitch_control")
    return not is_gap and not any(last < s < second for s in control)


def _stretch_figures(window: Window, seconds: list[int], limits: Limits) -> dict[str, Any]:
    target = window.target_altitude_ft or 0.0
    altitude = second_means(window, "altitude")
    errors = [altitude[s] for s in seconds if s in altitude]
    mean_error = sum(errors) / len(errors) if errors else None
    airspeed = second_means(window, "airspeed")
    speeds = [airspeed[s] for s in seconds if s in airspeed]
    lanchester = None
    if speeds and mean_error is not None:
        density = (1 - 6.8756e-6 * (mean_error + target)) ** 4.2559
        true_kt = sum(speeds) / len(speeds) / math.sqrt(density)
        lanchester = limits["lanchester_s_per_kt"] * true_kt
    return {
        "start_s": max(float(seconds[0]), window.start_s),
        "end_s": min(float(seconds[-1] + 1), window.end_s),
        "wander_ft": None if mean_error is None else max(abs(e - mean_error) for e in errors),
        "period_s": _period(window, seconds),
        "lanchester_period_s": lanchester,
    }


def _period(window: Window, seconds: list[int]) -> float | None:
    """Twice the mean time between the vertical speed's passages through its mean; three at least."""
    means = second_means(window, "vertical_speed")
    known = [(s, means[s]) for s in seconds if s in means]
    if not known:
        return None
    middle = sum(v for _, v in known) / len(known)
    sides = [(s, v > middle) for s, v in known if v != middle]
    passages = [s for (_, a), (s, b) in pairwise(sides) if a != b]
    if len(passages) < 3:
        return None
    return 2 * (passages[-1] - passages[0]) / (len(passages) - 1)
