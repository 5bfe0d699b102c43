"""How level flight was flown: in step with the needle, corrections large or small, trim used rightly."""

import math
from typing import Any

from tests.reference.excursions import second_means
from tests.reference.holds import hold_of
from tests.reference.sessions import Limits, Window, remembered
from tests.reference.steadiness import trim_moves

Pairs = list[tuple[float, float]]


def _pairs(ys: dict[int, float], xs: dict[int, float], later_s: int = 0) -> Pairs:
    """The values of `ys` with those of `xs` that many seconds before, where both are known."""
    return [(y, xs[s - later_s]) for s, y in ys.items() if s - later_s in xs]


def _sums(pairs: Pairs) -> tuple[float, float, float]:
    """Sums of squares and of products about the means: of y, of x, of both."""
    mean_y = math.fsum(y for y, _ in pairs) / len(pairs)
    mean_x = math.fsum(x for _, x in pairs) / len(pairs)
    return (
        math.fsum((y - mean_y) ** 2 for y, _ in pairs),
        math.fsum((x - mean_x) ** 2 for _, x in pairs),
        math.fsum((y - mean_y) * (x - mean_x) for y, x in pairs),
    )


def correlation(pairs: Pairs) -> float | None:
    """Pearson's; None where one of the two never changes."""
    if len(pairs) < 2:
        return None
    yy, xx, yx = _sums(pairs)
    return yx / math.sqrt(yy * xx) if yy > 0 and xx > 0 else None


def slope(pairs: Pairs) -> float | None:
    """The least-squares slope of y on x; None where x never changes."""
    if len(pairs) < 2:
        return None
    _, xx, yx = _sums(pairs)
    return yx / xx if xx > 0 else None


def corrections_of(window: Window, limits: Limits) -> dict[str, Any]:
    """The figures that `technique` takes from the corrections."""
    speed, control = (second_means(window, c) for c in ("vertical_speed", "pitch_control"))
    middle_s = (window.start_s + window.end_s) / 2
    late = [v * v for s, v in speed.items() if s >= middle_s]
    early = [v * v for s, v in speed.items() if s < middle_s]
    growth = None
    if late and early and sum(early) > 0:
        growth = math.sqrt(sum(late) / len(late)) / math.sqrt(sum(early) / len(early))
    altitude = second_means(window, "altitude") if window.target_altitude_ft is not None else {}
    gain = slope(_pairs(speed, altitude))
    return {
        "needle_r": correlation(_pairs(control, speed, round(limits["needle_lag_s"]))),
        "growth": growth,
        "correction_gain_per_min": None if gain is None else -gain,
        "over_rate_share": _share(
            abs(v) > _called_fpm(e, limits) + limits["correction_excess_fpm"]
            for v, e in _pairs(speed, altitude)
        ),
        "over_bank_share": _over_bank_share(window, limits),
    }


def _called_fpm(error_ft: float, limits: Limits) -> float:
    return min(limits["correction_gain_per_min"] * abs(error_ft), limits["correction_cap_fpm"])


def _share(found: Any) -> float | None:  # noqa: ANN401 - an iterable of truths
    values = list(found)
    return sum(values) / len(values) if values else None


def _over_bank_share(window: Window, limits: Limits) -> float | None:
    if window.target_heading_deg is None:
        return None
    bank, heading = second_means(window, "bank"), second_means(window, "heading")
    airspeed = second_means(window, "airspeed")
    over = []
    for second, angle in bank.items():
        if second not in heading:
            continue
        called = abs(heading[second])
        if second in airspeed:
            turn = airspeed[second] * 1.687810 * math.radians(limits["standard_rate_deg_per_s"])
            called = min(called, math.degrees(math.atan(turn / 32.174)))
        over.append(abs(angle) > called + limits["correction_bank_slack_deg"])
    return _share(over)


def _sign(value: float) -> int:
    return (value > 0) - (value < 0)


def _before(window: Window, channel: str, start_s: float, limits: Limits) -> float | None:
    """The mean of a channel over the seconds up to a trim input's first."""
    means = second_means(window, channel)
    found = [v for s, v in means.items() if start_s - limits["trim_before_s"] < s <= start_s]
    return sum(found) / len(found) if found else None


def _held_side(
    window: Window, start_s: float, kind: str, neutral: float | None, limits: Limits
) -> int | None:
    """Which way the control was held before an input: 1 a pull, -1 a push, 0 neither, None unknown."""
    if kind == "free":
        force = _before(window, "pitch_force", start_s, limits)
        if force is None:
            return None
        return _sign(force) if abs(force) >= limits["trim_held_force_n"] else 0
    control = _before(window, "pitch_control", start_s, limits)
    if control is None or neutral is None:
        return None
    held = control - neutral
    return _sign(held) if abs(held) >= limits["trim_held_control"] else 0


def trims_of(window: Window, kind: str, neutral: float | None, limits: Limits) -> dict[str, Any]:
    """How the trim inputs of a maneuver went: rightly, wrongly, while unsteady."""
    right = wrong = unsteady = 0
    moves = trim_moves(window, limits)
    for move in moves:
        held = _held_side(window, move.start_s, kind, neutral, limits)
        rate = _before(window, "vertical_speed", move.start_s, limits)
        called = None
        if rate is not None and abs(rate) > limits["near_zero_vertical_speed_fpm"]:
            called = -_sign(rate)
        wanted = held or (called if held == 0 else None)
        if wanted is not None:
            right += wanted == _sign(move.change)
            wrong += wanted == -_sign(move.change)
        unsteady += rate is not None and abs(rate) > limits["trim_steady_fpm"]
    return {
        "trims": len(moves),
        "trims_right": right,
        "trims_wrong": wrong,
        "trims_unsteady": unsteady,
    }


def _control_first(window: Window, limits: Limits) -> tuple[bool | None, float | None]:
    """Whether the control had moved before the first trim input, and how long before."""
    moves = trim_moves(window, limits)
    control = second_means(window, "pitch_control")
    if not moves:
        return None, None
    first_s = moves[0].start_s
    start = next(iter(control.values()), None)
    moved = next(
        (s for s, v in control.items() if abs(v - (start or 0.0)) >= limits["control_dead_band"]),
        None,
    )
    if moved is None or moved > first_s + 1:
        return False, None
    return True, first_s - moved


@remembered
def technique_of(
    window: Window, kind: str, neutral: float | None, limits: Limits
) -> dict[str, Any]:
    """The figures of `technique` for one maneuver in level flight."""
    found = corrections_of(window, limits)
    channels = window.session.row["channels"]
    control = hold_of(window, "pitch_control", limits)
    is_close = (
        None if found["needle_r"] is None else found["needle_r"] <= limits["chasing_needle_r"]
    )
    spread = None if control is None else control.spread
    is_moved = None if spread is None else spread >= limits["chasing_control_sd"]
    is_chasing: bool | None = None
    if is_close is False or is_moved is False:
        is_chasing = False
    elif is_close and is_moved:
        is_chasing = True
    trims: dict[str, Any] = dict.fromkeys(["trims", "trims_right", "trims_wrong", "trims_unsteady"])
    if "pitch_trim" in channels:
        trims = trims_of(window, kind, neutral, limits)
    is_first, lead_s = _control_first(window, limits)
    is_event = window.kind != "level"
    return {
        **found,
        "is_chasing": is_chasing,
        **trims,
        "is_control_first": is_first if is_event and "pitch_control" in channels else None,
        "control_lead_s": lead_s if is_event else None,
    }
