"""Trim after a level-off or a power change: when it settled, when it was set, and hands-off stretches."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

from tests.reference.sessions import Limits, Point, Window, between


def time_mean(points: list[Point], gap_ms: int, after_ms: int, until_ms: int) -> float | None:
    """The mean over time of straight lines between neighbours, for the steps that end in (after, until].

    Where no step ends there, the plain mean of the values from just after `after_ms`; else None.
    """
    inside = between(points, after_ms + 1, until_ms)
    before = between(points, after_ms - gap_ms, after_ms)[-1:]
    weighted, known_ms = 0.0, 0
    for (t0, v0), (t1, v1) in pairwise(before + inside):
        if t1 - t0 <= gap_ms:
            weighted += (v0 + v1) / 2 * (t1 - t0)
            known_ms += t1 - t0
    if known_ms > 0:
        return weighted / known_ms
    return sum(v for _, v in inside) / len(inside) if inside else None


@dataclass(frozen=True)
class Stretch:
    """A part of an event without a gap in its altitude: the sample times, and each channel's points."""

    number: int
    times: list[int]
    altitude: dict[int, float]
    speed: list[Point]
    displacement: list[Point]
    control: list[Point]
    trim: list[Point]

    @cached_property
    def end_ms(self) -> int:
        return max(self.altitude)

    @cached_property
    def control_at(self) -> dict[int, float]:
        return dict(self.control)

    def times_ahead(self, first: int, last: int) -> list[int]:
        return self.times[bisect_left(self.times, first) : bisect_right(self.times, last)]


@dataclass(frozen=True)
class Event:
    """What settling is judged with: the maneuver, how its stick behaves, where it rests."""

    window: Window
    control_kind: str
    neutral: float | None
    limits: Limits

    def displacements(self) -> list[Point]:
        """How far the control is from rest, in travel; a free control's logged force counts in parts."""
        if self.control_kind == "centring":
            if self.neutral is None:
                return []
            return [(t, v - self.neutral) for t, v in self.window.points("pitch_control")]
        scale = self.limits["settle_control"] / self.limits["settle_force_n"]
        return [(t, v * scale) for t, v in self.window.points("pitch_force")]

    def displacement_gap_ms(self) -> int:
        name = "pitch_control" if self.control_kind == "centring" else "pitch_force"
        return self.window.session.gap_ms(name)

    def stretches(self) -> list[Stretch]:
        """The event parted at gaps of its altitude; what was sampled in a gap goes with the part before."""
        window = self.window
        parts = window.stretches("altitude")
        times = [t for t in window.session.t_ms if window.is_inside(t)]
        found = []
        for i, part in enumerate(parts):
            first = window.start_ms if i == 0 else part[0][0]
            last = parts[i + 1][0][0] - 1 if i + 1 < len(parts) else window.end_ms
            found.append(
                Stretch(
                    i,
                    [t for t in times if first <= t <= last],
                    dict(part),
                    between(window.points("vertical_speed"), first, last),
                    between(self.displacements(), first, last),
                    between(window.points("pitch_control"), first, last),
                    between(window.points("pitch_trim"), first, last),
                )
            )
        return found

    def is_control_off(self, stretch: Stretch, t: int) -> bool:
        """Whether nothing is held: the last 5 s' mean displacement; without one, whether the stick rests."""
        after = t - round(self.limits["settle_mean_s"] * 1000)
        mean = time_mean(stretch.displacement, self.displacement_gap_ms(), after, t)
        if self.control_kind == "centring" or mean is not None:
            return mean is not None and abs(mean) <= self.limits["settle_control"]
        gap_ms = self.window.session.gap_ms("pitch_control")
        usual = time_mean(stretch.control, gap_ms, after, t)
        here = stretch.control_at.get(t)
        if usual is None:
            return False
        return here is None or abs(here - usual) <= self.limits["hands_off_still"]

    def is_level(self, stretch: Stretch, t: int) -> bool:
        after = t - round(self.limits["settle_mean_s"] * 1000)
        gap_ms = self.window.session.gap_ms("vertical_speed")
        mean = time_mean(stretch.speed, gap_ms, after, t)
        return mean is not None and abs(mean) <= self.limits["settle_vertical_speed_fpm"]

    def is_on_altitude(self, stretch: Stretch, t: int) -> bool:
        return t not in stretch.altitude or (
            abs(stretch.altitude[t]) <= self.limits["settle_altitude_ft"]
        )

    def first_settled(self) -> tuple[int, int] | None:
        """The first moment from which everything stays settled for the hold, and its stretch's number."""
        hold_ms = round(self.limits["settle_hold_s"] * 1000)
        for stretch in self.stretches():
            is_held = {
                t: self.is_control_off(stretch, t)
                and self.is_level(stretch, t)
                and self.is_on_altitude(stretch, t)
                for t in stretch.times
            }
            for t in stretch.altitude:
                ahead = [is_held[u] for u in stretch.times_ahead(t, t + hold_ms)]
                if stretch.end_ms >= t + hold_ms and all(ahead):
                    return t, stretch.number
        return None

    def first_set(self) -> tuple[int, int] | None:
        """The first moment from which the aeroplane was left alone, and its stretch's number."""
        hold_ms = round(self.limits["set_hold_s"] * 1000)
        gap_ms = self.window.session.gap_ms("vertical_speed")
        for stretch in self.stretches():
            is_held = {
                t: self.is_control_off(stretch, t) and self.is_on_altitude(stretch, t)
                for t in stretch.times
            }
            for t in stretch.altitude:
                until = t + hold_ms
                if stretch.end_ms < until:
                    continue
                trims = [v for _, v in between(stretch.trim, t, until)]
                is_still = bool(trims) and max(trims) - min(trims) <= self.limits["set_trim_still"]
                mean = self._mean_speed_ahead(stretch, t, until, gap_ms)
                is_level = mean is not None and (
                    abs(mean) <= self.limits["settle_vertical_speed_fpm"]
                )
                ahead = [is_held[u] for u in stretch.times_ahead(t, until)]
                if is_still and is_level and all(ahead):
                    return t, stretch.number
        return None

    @staticmethod
    def _mean_speed_ahead(stretch: Stretch, t: int, until: int, gap_ms: int) -> float | None:
        """The mean over the steps that end after t; from lone values, the one at t counts too."""
        points = stretch.speed
        around = between(points, t - gap_ms, until)
        has_steps = any(b[0] > t and b[0] - a[0] <= gap_ms for a, b in pairwise(around))
        return time_mean(points, gap_ms, t if has_steps else t - 1, until)

    def why_unknown(self) -> str | None:
        """Why nothing can be said; None where it can."""
        window, limits = self.window, self.limits
        if not window.points("altitude"):
            return "no altitude recorded"
        if window.session.step_s("altitude") > limits["excursion_step_limit_s"]:
            return "samples are too far apart to time a settling"
        if window.target_altitude_ft is None:
            return "no target altitude"
        if not window.points("vertical_speed"):
            return "no vertical speed"
        if not window.points("pitch_control") and not self.displacements():
            return "pitch control not logged"
        if self.control_kind == "centring" and self.neutral is None:
            return "no neutral for the device on that day"
        return None


def settling_of(event: Event) -> dict[str, Any]:
    """The figures of `trim_settling` for one level-off or power change."""
    names = (
        *("trim_settle_s", "is_settled", "trim_set_s", "is_set", "followed_s", "set_followed_s"),
        *("is_upper_bound", "is_set_upper_bound"),
    )
    if event.why_unknown() is not None:
        return dict.fromkeys(names)
    window, limits = event.window, event.limits
    settled, was_set = event.first_settled(), event.first_set()
    has_trim = bool(window.points("pitch_trim"))
    return {
        "trim_settle_s": None if settled is None else (settled[0] - window.start_ms) / 1000,
        "is_settled": settled is not None,
        "trim_set_s": (
            (was_set[0] - window.start_ms) / 1000 if has_trim and was_set is not None else None
        ),
        "is_set": was_set is not None if has_trim else None,
        "followed_s": max(window.length_s - limits["settle_hold_s"], 0),
        "set_followed_s": max(window.length_s - limits["set_hold_s"], 0) if has_trim else None,
        "is_upper_bound": settled is not None and settled[1] > 0,
        "is_set_upper_bound": was_set is not None and was_set[1] > 0,
    }
