"""What the search finds in a session: climbs and descents, turns, changes of power.

Everything here looks at a session's seconds and slow motions (search.py), by their second.
"""

import statistics
from collections.abc import Sequence
from itertools import groupby

from tests.reference.search import Row, Seconds, mean_of
from tests.reference.sessions import Limits

Motions = dict[int, Row]
Run = list[int]
"""Seconds one after another (some may be missing)."""


def _runs(motions: Motions, name: str, slowest: float) -> list[Run]:
    """The runs in which a motion goes one way and faster than `slowest`, within one stretch of the log."""

    def way(second: int) -> tuple[int, int]:
        rate = motions[second][name]
        is_moving = rate is not None and abs(rate) > slowest
        sign = 0 if not is_moving else (1 if rate > 0 else -1)
        return motions[second]["stretch_no"], sign

    parts = [(key, list(run)) for key, run in groupby(sorted(motions), key=way)]
    return [run for (_, sign), run in parts if sign]


def _core(run: Run, motions: Motions, name: str, share: float) -> tuple[int, int, float, int]:
    """First and last second of at least a share of the run's greatest rate; that rate, and its sign."""
    rates = {s: abs(motions[s][name]) for s in run}
    peak = max(rates.values())
    fast = [s for s in run if rates[s] >= peak * share]
    return fast[0], fast[-1], peak, 1 if motions[run[0]][name] > 0 else -1


class Around:
    """The known values of a channel near a find, in its own stretch of the log."""

    def __init__(self, seconds: Seconds, stretch: int) -> None:
        self._own = {s: row for s, row in seconds.items() if row["stretch_no"] == stretch}

    def values(self, name: str, first: int, last: int) -> list[float]:
        """The known values from one second to another, both counted in."""
        rows = (self._own[s] for s in range(first, last + 1) if s in self._own)
        return [row[name] for row in rows if row[name] is not None]

    def median(self, name: str, first: int, last: int) -> float | None:
        found = self.values(name, first, last)
        return statistics.median(found) if found else None

    def mean(self, name: str, first: int, last: int) -> float | None:
        found = self.values(name, first, last)
        return mean_of(found) if found else None


def _less(a: float | None, b: float | None, sign: int) -> float | None:
    return None if a is None or b is None else sign * (a - b)


def climbs_of(seconds: Seconds, motions: Motions, limits: Limits) -> list[Row]:
    """The rows of `found_climbs`."""
    found = []
    for run in _runs(motions, "climb_fpm", limits["inferred_rate_fpm"] / 2):
        start, end, peak, sign = _core(run, motions, "climb_fpm", 1 / 2)
        if peak < limits["inferred_rate_fpm"]:
            continue
        stretch = motions[start]["stretch_no"]
        near = Around(seconds, stretch)
        end_ft = near.mean("altitude_ft", end - 2, end + 2)
        after_ft = near.median("altitude_ft", end + 11, end + 70)
        change = _less(end_ft, near.mean("altitude_ft", start - 2, start + 2), sign)
        kept = _less(after_ft, near.median("altitude_ft", start - 60, start - 1), sign)
        power = _power_change(near, start, end, sign)
        if change is not None and _is_climb_meant(change, kept, power, limits):
            found.append(
                {
                    "stretch_no": stretch,
                    "start_no": start,
                    "end_no": end,
                    "kind": "climb" if sign > 0 else "descent",
                    "change_ft": change,
                    "kept_ft": kept,
                    "settled_ft": end_ft if after_ft is None else after_ft,
                    "power_change": power,
                }
            )
    return found


def _power_change(near: Around, start: int, end: int, sign: int) -> float | None:
    """Power within less that of the level flight around it: of before and after, or of the known one."""
    beside = [
        near.median("power", start - 30, start - 5),
        near.median("power", end + 10, end + 40),
    ]
    known = [p for p in beside if p is not None]
    return _less(near.mean("power", start, end), mean_of(known), sign) if known else None


def _is_climb_meant(change: float, kept: float | None, power: float | None, limits: Limits) -> bool:
    if change >= limits["inferred_climb_surely_ft"]:
        return True
    if power is not None:
        return power >= limits["inferred_climb_power"] and change >= limits["inferred_climb_ft"]
    alone = limits["inferred_climb_alone_ft"]
    return change >= alone and (change if kept is None else kept) >= 2 * alone / 3


def turns_of(seconds: Seconds, motions: Motions, limits: Limits) -> list[Row]:
    """The rows of `found_turns`."""
    found = []
    for run in _runs(motions, "turn_deg_per_s", limits["inferred_turn_rate_deg_per_s"] / 6):
        start, end, peak, sign = _core(run, motions, "turn_deg_per_s", 1 / 5)
        stretch = motions[start]["stretch_no"]
        near = Around(seconds, stretch)
        end_deg = near.mean("heading_deg", end - 1, end + 1)
        after_deg = near.median("heading_deg", end + 6, end + 45)
        change = _less(end_deg, near.mean("heading_deg", start - 1, start + 1), sign)
        kept = _less(after_deg, near.median("heading_deg", start - 40, start - 1), sign)
        if change is not None and _is_turn_meant(change, kept, peak, limits):
            found.append(
                {
                    "stretch_no": stretch,
                    "start_no": start,
                    "end_no": end,
                    "change_deg": change,
                    "kept_deg": kept,
                    "settled_deg": end_deg if after_deg is None else after_deg,
                    "peak_deg_per_s": peak,
                }
            )
    return found


def _is_turn_meant(change: float, kept: float | None, peak: float, limits: Limits) -> bool:
    least = limits["inferred_turn_deg"]
    is_kept = (change if kept is None else kept) >= 2 * least / 3
    is_quick = peak >= limits["inferred_turn_rate_deg_per_s"]
    is_plain = change >= least and is_quick and is_kept
    return is_plain or change >= limits["inferred_turn_surely_deg"]


def power_changes_of(motions: Motions, climbs: Sequence[Row], limits: Limits) -> list[Row]:
    """The rows of `found_power_changes`: of steps that follow each other within 5 s the greatest."""
    stepped = [s for s in sorted(motions) if _is_power_set(motions[s], limits)]
    groups: list[Run] = []
    for second in stepped:
        last = groups[-1][-1] if groups else None
        is_next = (
            last is not None
            and second - last <= 5
            and motions[last]["stretch_no"] == motions[second]["stretch_no"]
        )
        if is_next:
            groups[-1].append(second)
        else:
            groups.append([second])
    starts = [max(group, key=lambda s: abs(motions[s]["power_step"])) for group in groups]
    return [
        {
            "stretch_no": motions[s]["stretch_no"],
            "start_no": s,
            "power_step": motions[s]["power_step"],
        }
        for s in starts
        if not any(c["start_no"] - 20 <= s <= c["end_no"] + 30 for c in climbs)
    ]


def _is_power_set(motion: Row, limits: Limits) -> bool:
    """A step of power, kept for the minute after, out of a quiet setting."""
    step, kept, unrest = (motion[n] for n in ("power_step", "power_kept", "power_unrest"))
    if step is None or kept is None or unrest is None:
        return False
    return (
        abs(step) >= limits["inferred_power_step"]
        and (kept if step > 0 else -kept) >= limits["inferred_power_kept"]
        and unrest <= limits["inferred_power_steady"]
    )
