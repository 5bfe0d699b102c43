"""Excursions: when, how often and for how long a channel was beyond a band."""

from dataclasses import dataclass

from tests.reference.holds import hold_of
from tests.reference.sessions import Limits, Point, Window, remembered

CHANNELS = ("altitude", "heading", "airspeed", "vertical_speed")


@dataclass(frozen=True)
class Run:
    """One excursion beyond one edge; cut where a gap or the maneuver's own edge hides its start or end."""

    start_s: float
    end_s: float
    is_start_cut: bool
    is_end_cut: bool

    @property
    def length_s(self) -> float:
        return round(self.end_s - self.start_s, 6)

    @property
    def is_cut(self) -> bool:
        return self.is_start_cut or self.is_end_cut


def has_no_target(window: Window, channel: str) -> bool:
    """Whether there is nothing to hold the channel against."""
    target = {"altitude": window.target_altitude_ft, "heading": window.target_heading_deg}
    return channel in target and target[channel] is None


@remembered
def runs_beyond(window: Window, channel: str, edge: float, limits: Limits) -> list[Run]:
    """The excursions beyond one edge (+200 is 200 above, -200 below), in order of time.

    Between neighbours the signal is a straight line; on the edge is inside.
    """
    hold = hold_of(window, channel, limits)
    if hold is None or hold.observed_s is None or has_no_target(window, channel):
        return []
    reference = hold.reference or 0.0
    sign = 1 if edge > 0 else -1
    found: list[Run] = []
    for stretch in window.stretches(channel):
        beyond = [(t, sign * (v - reference) - abs(edge)) for t, v in stretch]
        found += _runs_of(beyond)
    return found


def _runs_of(beyond: list[Point]) -> list[Run]:
    """The runs above zero of one known stretch."""
    found: list[Run] = []
    start: tuple[float, bool] | None = None
    for i, (t, value) in enumerate(beyond):
        if i == 0:
            start = (t / 1000, True) if value > 0 else None
            continue
        before_t, before = beyond[i - 1]
        if before <= 0 < value:
            start = (_crossing(before_t, before, t, value), False)
        if value <= 0 < before and start is not None:
            found.append(Run(start[0], _crossing(before_t, before, t, value), start[1], False))
            start = None
    if start is not None:
        found.append(Run(start[0], beyond[-1][0] / 1000, start[1], True))
    return found


def _crossing(t0: int, v0: float, t1: int, v1: float) -> float:
    """When a straight line from (t0, v0) to (t1, v1) passes zero, in seconds."""
    return (t0 + (t1 - t0) * v0 / (v0 - v1)) / 1000


def excursion_figures(
    window: Window, channel: str, tolerance: float, limits: Limits
) -> dict[str, float | int | bool | None]:
    """The figures of `excursions` for one channel and tolerance; all None where nothing can be told."""
    hold = hold_of(window, channel, limits)
    is_slow = window.session.step_s(channel) > limits["excursion_step_limit_s"]
    if hold is None or hold.observed_s is None or has_no_target(window, channel) or is_slow:
        return dict.fromkeys(
            (
                *("in_tolerance", "excursions", "excursions_2x", "excursions_2s", "out_s"),
                *("longest_out_s", "is_longest_lower_bound", "time_to_exceed_s"),
            )
        )
    once = [r for e in (tolerance, -tolerance) for r in runs_beyond(window, channel, e, limits)]
    twice = [
        r for e in (2 * tolerance, -2 * tolerance) for r in runs_beyond(window, channel, e, limits)
    ]
    longest = max((r.length_s for r in once), default=0.0)
    return {
        "in_tolerance": 1 - sum(r.end_s - r.start_s for r in once) / hold.observed_s,
        "excursions": len(once),
        "excursions_2x": len(twice),
        "excursions_2s": sum(r.length_s >= limits["chatter_s"] for r in once),
        "out_s": sum(r.end_s - r.start_s for r in once),
        "longest_out_s": longest,
        "is_longest_lower_bound": any(r.is_cut and r.length_s >= longest for r in once),
        "time_to_exceed_s": time_to_exceed(window, channel, tolerance, limits),
    }


@remembered
def second_means(window: Window, channel: str) -> dict[int, float]:
    """The mean of a channel's samples in each second of the session that has any in the maneuver."""
    seconds: dict[int, list[float]] = {}
    for t, value in window.points(channel):
        seconds.setdefault(t // 1000, []).append(value)
    return {second: sum(values) / len(values) for second, values in sorted(seconds.items())}


@remembered
def time_to_exceed(window: Window, channel: str, tolerance: float, limits: Limits) -> float | None:
    """How soon, on average over the seconds, the band would be left had the last 5 s' rate gone on."""
    hold = hold_of(window, channel, limits)
    assert hold is not None
    reference = hold.reference or 0.0
    means = second_means(window, channel)
    rate_s, cap_s = round(limits["exceed_rate_s"]), limits["exceed_cap_s"]
    times = []
    for second, value in means.items():
        earlier = max((s for s in means if s <= second - rate_s), default=None)
        if earlier is None or (second - rate_s - earlier) * 1000 > window.session.gap_ms(channel):
            continue
        rate = (value - means[earlier]) / (second - earlier)
        error = value - reference
        if abs(error) > tolerance:
            times.append(0.0)
        elif rate == 0:
            times.append(cap_s)
        else:
            ahead = tolerance - error if rate > 0 else tolerance + error
            times.append(min(ahead / abs(rate), cap_s))
    return sum(times) / len(times) if times else None
