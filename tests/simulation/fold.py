"""Trends and the fold of flags, for arrays of cohorts: the last steps of the rule."""

from dataclasses import dataclass
from math import factorial

import numpy as np

from tests.simulation.world import Bools, Cohorts, Floats

Limits = dict[str, float]


@dataclass(frozen=True)
class Folded:
    """Per cohort, student and session: whether a flag stood, was raised, or cleared then."""

    flagged: Bools
    raised: Bools
    cleared: Bools
    rising: Bools
    falling: Bools


def kendall_limits(k: Limits) -> dict[int, int]:
    """For each number of sessions, the smallest score whose exact two-sided chance is small enough."""
    found = {}
    orders = [1]
    for n in range(2, int(k["flag_trend_maximum_sessions"]) + 1):
        orders = np.convolve(orders, np.ones(n)).astype(int).tolist()
        scores = n * (n - 1) // 2 - 2 * np.arange(len(orders))
        chances = {
            int(s): 2 * sum(o for o, t in zip(orders, scores, strict=True) if t >= s)
            for s in scores
            if s > 0
        }
        small = [s for s, o in chances.items() if o / factorial(n) <= k["flag_trend_p"]]
        found[n] = min(small) if small else n * n
    return found


def trends(c: Cohorts, k: Limits, effect: Floats | None = None) -> tuple[Bools, Bools]:
    """Whether figures were rising, or falling, at each session."""
    needed = kendall_limits(k)
    up, down, large_up, large_down = (np.zeros(c.day.shape, bool) for _ in range(4))
    rows = np.arange(c.day.shape[0])[:, None, None]
    for at in range(int(k["flag_trend_minimum_sessions"]) - 1, c.day.shape[2]):
        size = min(at + 1, int(k["flag_trend_maximum_sessions"]))
        back = slice(at + 1 - size, at + 1)
        y = c.figure[:, :, back]
        if effect is not None:
            y = y - effect[rows, c.device[:, :, back], c.day[:, :, at, None]]
        i, j = np.triu_indices(size, 1)
        rise = y[:, :, j] - y[:, :, i]
        score = np.sign(rise).sum(axis=2)
        slope = np.median(rise / (j - i), axis=2)
        middle = np.median(y, axis=2)
        first = np.exp(middle - slope * (size - 1) / 2)
        last = np.exp(middle + slope * (size - 1) / 2)
        change = slope * (size - 1)
        is_large = (np.abs(change) >= k["flag_trend_change_ln"]) & (
            np.abs(last - first) >= k["flag_trend_change_ratio"]
        )
        up[:, :, at] = score >= needed[size]
        down[:, :, at] = score <= -needed[size]
        large_up[:, :, at] = is_large & (change > 0)
        large_down[:, :, at] = is_large & (change < 0)
    before_up, before_down = np.roll(up, 1, axis=2), np.roll(down, 1, axis=2)
    before_up[:, :, 0] = before_down[:, :, 0] = False
    flown = c.flown
    return up & before_up & large_up & flown, down & before_down & large_down & flown


def fold(c: Cohorts, k: Limits, z: Floats, rising: Bools, falling: Bools) -> Folded:
    """The flags of every student, session by session."""
    shape = c.day.shape
    flagged, raised, cleared = (np.zeros(shape, bool) for _ in range(3))
    standing = np.zeros(shape[:2], bool)
    cleared_on = np.full(shape[:2], -(10**6))
    outside = c.figure > 0
    flown = c.flown
    for at in range(shape[2]):
        day = c.day[:, :, at]
        recent = outside[:, :, max(0, at + 1 - int(k["flag_recent_sessions"])) : at + 1].sum(axis=2)
        is_up = (z[:, :, at] >= k["flag_raise_z"]) & (recent >= k["flag_outside_sessions"])
        is_up &= at + 1 >= k["flag_minimum_sessions"]
        is_up |= rising[:, :, at] & (z[:, :, at] >= k["flag_clear_z"])
        is_up &= ~falling[:, :, at] & (day - cleared_on > k["flag_clear_days"])
        in_sight = c.day[:, :, : at + 1] > day[:, :, None] - k["flag_clear_days"]
        in_sight[:, :, max(0, at - 1) :] = True
        highest = np.where(in_sight, z[:, :, : at + 1], -np.inf).max(axis=2)
        is_down = (highest <= k["flag_clear_z"]) & (at > 0)
        here = flown[:, :, at]
        raised[:, :, at] = here & ~standing & is_up
        cleared[:, :, at] = here & standing & is_down
        cleared_on = np.where(cleared[:, :, at], day, cleared_on)
        standing = np.where(here, np.where(standing, ~is_down, is_up), standing)
        flagged[:, :, at] = standing & here
    return Folded(flagged, raised, cleared, rising, falling)
