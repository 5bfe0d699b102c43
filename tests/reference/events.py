"""Turns, climbs, descents and level-offs: how they were rolled out, led and captured."""

from dataclasses import dataclass
from typing import Any

from tests.reference.sessions import Limits, Point, Window, between, remembered, wrapped

Seconds = dict[int, float]


@dataclass(frozen=True)
class EventSeconds:
    """The means of each second of an event and of the time just before or after it."""

    altitude: Seconds
    heading: Seconds
    vertical_speed: Seconds
    bank: Seconds


def means_of(points: list[Point]) -> Seconds:
    """The mean of the values in each second, in order of time."""
    found: dict[int, list[float]] = {}
    for t, value in points:
        found.setdefault(t // 1000, []).append(value)
    return {second: sum(values) / len(values) for second, values in sorted(found.items())}


def event_seconds(window: Window, next_turn_ms: int | None, limits: Limits) -> EventSeconds:
    """A level-off from some seconds before it, a turn until some seconds after, or the next turn."""
    first, last = window.start_ms, window.end_ms
    if window.kind == "level_off":
        first -= round(1000 * limits["capture_before_s"])
    if window.kind == "turn":
        after = last + round(1000 * limits["roll_out_s"])
        last = after if next_turn_ms is None else min(after, max(next_turn_ms, last))
    logged = {
        c: between(window.session.points(c), first, last)
        for c in ("altitude", "heading", "vertical_speed", "bank")
    }
    unwrapped: list[Point] = []
    for i, (t, heading) in enumerate(logged["heading"]):
        before = logged["heading"][i - 1][1] if i else heading
        level = unwrapped[-1][1] if i else heading
        unwrapped.append((t, level + wrapped(heading - before)))
    return EventSeconds(
        means_of(logged["altitude"]),
        means_of(unwrapped),
        means_of(logged["vertical_speed"]),
        means_of(logged["bank"]),
    )


@remembered
def turn_of(window: Window, next_turn_ms: int | None, limits: Limits) -> dict[str, Any]:
    """The figures of `turn_figures`; None where the heading, or a target, is missing."""
    seen = event_seconds(window, next_turn_ms, limits)
    found: dict[str, Any] = dict.fromkeys(
        ["asked_deg", "turned_deg", "is_short_way", "roll_out_error_deg", "overshoot_deg"]
    )
    found["peak_bank_deg"] = max(map(abs, seen.bank.values()), default=None)
    altitudes = list(seen.altitude.values())
    found["altitude_kept_ft"] = max((abs(a - altitudes[0]) for a in altitudes), default=None)
    found["peak_rate_deg_per_s"] = max(
        (
            abs(h - seen.heading[s - 3]) / 3
            for s, h in seen.heading.items()
            if s - 3 in seen.heading
        ),
        default=None,
    )
    if not seen.heading:
        return found
    headings = list(seen.heading.values())
    first, last = headings[0], headings[-1]
    found["turned_deg"] = last - first
    if window.target_heading_deg is None:
        return found
    asked = wrapped(window.target_heading_deg - first)
    last_error = wrapped(last - window.target_heading_deg)
    errors = {s: last_error + h - last for s, h in seen.heading.items()}
    final = [e for s, e in errors.items() if s > max(errors) - limits["roll_out_mean_s"]]
    way = (last > first) - (last < first)
    is_telling = 1 < abs(asked) <= 170
    return {
        **found,
        "asked_deg": asked,
        "is_short_way": (way == (1 if asked > 0 else -1)) if is_telling else None,
        "roll_out_error_deg": sum(final) / len(final),
        "overshoot_deg": max(0.0, *(way * e for e in errors.values())),
    }


def _rates(speeds: Seconds, seconds: list[int]) -> Seconds:
    """At each second the mean of the vertical speeds of it and the four before, where there is one."""
    found = {}
    for second in seconds:
        recent = [speeds[s] for s in range(second - 4, second + 1) if s in speeds]
        if recent:
            found[second] = sum(recent) / len(recent)
    return found


@remembered
def capture_of(window: Window, limits: Limits) -> dict[str, Any]:
    """The figures of `capture_figures`."""
    seen = event_seconds(window, None, limits)
    target = window.target_altitude_ft
    errors = {} if target is None else {s: a - target for s, a in seen.altitude.items()}
    is_level_off = window.kind == "level_off"
    every = sorted({t // 1000 for t in _sample_times(window, limits)})
    rates = _rates(seen.vertical_speed, every)
    judged = {
        s: r
        for s, r in rates.items()
        if not is_level_off or s - window.start_s <= limits["capture_before_s"]
    }
    entry_s = max(judged, key=lambda s: abs(judged[s]), default=None)
    entry = None if entry_s is None else judged[entry_s]
    inside = {s: e for s, e in errors.items() if s >= window.start_s}
    way = 0 if entry is None else (entry > 0) - (entry < 0)
    lead = None
    if is_level_off and entry is not None and entry_s is not None:
        slow = [s for s, r in rates.items() if s > entry_s and r * way < abs(entry) / 2]
        lead = next((-way * errors[s] for s in slow if s in errors), None)
    captured = next((s for s in inside if _is_captured(s, errors, seen, window, limits)), None)
    is_known = bool(inside) and (not is_level_off or entry is not None)
    length = window.length_s - (limits["capture_hold_s"] if is_level_off else 0)
    return {
        "entry_rate_fpm": entry,
        "lead_ft": lead,
        "lead_share": None if lead is None or not entry else lead / abs(entry),
        "overshoot_ft": (
            max(0.0, *(way * e for e in inside.values())) if inside and entry is not None else None
        ),
        "capture_s": None if captured is None else captured - window.start_s,
        "is_captured": True if captured is not None else (False if is_known else None),
        "followed_s": max(length, 0.0) if is_known or captured is not None else None,
    }


def _sample_times(window: Window, limits: Limits) -> list[int]:
    first = window.start_ms
    if window.kind == "level_off":
        first -= round(1000 * limits["capture_before_s"])
    return [t for t in window.session.t_ms if first <= t <= window.end_ms]


def _is_captured(
    second: int, errors: Seconds, seen: EventSeconds, window: Window, limits: Limits
) -> bool:
    """Inside the band; of a level-off, for the whole hold, and never climbing or sinking fast in it."""
    if window.kind != "level_off":
        return abs(errors[second]) <= limits["capture_altitude_ft"]
    hold = range(second, second + round(limits["capture_hold_s"]))
    speeds = [abs(seen.vertical_speed[s]) for s in hold if s in seen.vertical_speed]
    return (
        all(s in errors and abs(errors[s]) <= limits["capture_altitude_ft"] for s in hold)
        and bool(speeds)
        and max(speeds) <= limits["capture_rate_fpm"]
    )
