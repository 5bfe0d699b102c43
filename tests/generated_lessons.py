"""Lessons that hypothesis makes up for the search: climbs, turns, changes of power, in turn or at once.

Drawn are the legs, how well they are flown, and how they are recorded: 1 to 20 Hz, with gaps, jumps,
pauses, missing and slower channels, coarse steps, north crossings, a clock that begins before or after
the session, a few samples only.
"""

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.flights import Log, Task, Value

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Leg:
    """What is asked for: a climb, a turn and a power from its beginning on, and how long until the next."""

    climb_ft: float = 0
    fpm: float = 500
    turn_deg: float = 0
    deg_per_s: float = 3
    power: float = 0
    turns_later_s: float = 0
    rest_s: float = 60

    @property
    def length_s(self) -> float:
        climb_s = abs(self.climb_ft) / self.fpm * 60
        turn_s = abs(self.turn_deg) / self.deg_per_s + self.turns_later_s
        return max(climb_s, turn_s if self.turn_deg else 0) + self.rest_s


RESTS = st.sampled_from([2.0, 8.0, 25.0, 45.0, 90.0, 150.0])
climbs = st.builds(
    Leg,
    climb_ft=st.sampled_from([-1100.0, -500.0, -200.0, 160.0, 320.0, 400.0, 1200.0]),
    fpm=st.sampled_from([250.0, 400.0, 500.0, 700.0, 1000.0]),
    power=st.sampled_from([0.0, 0.1, 0.25, 0.35]),
    rest_s=RESTS,
)
turns = st.builds(
    Leg,
    turn_deg=st.sampled_from([-360.0, -90.0, -30.0, 12.0, 20.0, 50.0, 180.0]),
    deg_per_s=st.sampled_from([0.7, 1.5, 3.0, 6.0]),
    rest_s=RESTS,
)
both = st.builds(
    Leg,
    climb_ft=st.sampled_from([-600.0, 450.0, 800.0]),
    fpm=st.sampled_from([400.0, 700.0]),
    turn_deg=st.sampled_from([-120.0, 60.0, 270.0]),
    deg_per_s=st.sampled_from([1.5, 3.0]),
    power=st.sampled_from([0.0, 0.25, 0.3]),
    turns_later_s=st.sampled_from([-8.0, 0.0, 10.0, 50.0]),
    rest_s=RESTS,
)
changes = st.builds(
    Leg, power=st.sampled_from([-0.2, -0.12, -0.09, 0.05, 0.09, 0.17, 0.2]), rest_s=RESTS
)


@dataclass(frozen=True)
class Flight:
    """The legs and how they are flown."""

    legs: tuple[Leg, ...]
    seed: int
    first_ft: float = 3000
    first_deg: float = 0
    wander_ft: float = 0
    wander_s: float = 90
    wander_deg: float = 0
    gusts_ft: float = 5
    grain_ft: float = 0
    grain_deg: float = 0

    @property
    def length_s(self) -> float:
        return min(sum(leg.length_s for leg in self.legs), 700)

    def channels(self, t: Floats) -> dict[str, Floats]:
        """Every channel at the seconds `t` from its beginning."""
        rng = np.random.default_rng(self.seed)
        altitude, heading, power = (
            np.full_like(t, v) for v in (self.first_ft, self.first_deg, 0.62)
        )
        begun = 0.0
        for leg in self.legs:
            climb_s = abs(leg.climb_ft) / leg.fpm * 60
            altitude += leg.climb_ft * np.clip((t - begun) / max(climb_s, 1e-9), 0, 1)
            turn_s = abs(leg.turn_deg) / leg.deg_per_s
            turned_s = t - begun - leg.turns_later_s
            heading += leg.turn_deg * np.clip(turned_s / max(turn_s, 1e-9), 0, 1)
            if leg.climb_ft:
                is_climbing = (t >= begun) & (t < begun + climb_s)
                power += np.where(is_climbing, np.sign(leg.climb_ft) * leg.power, 0)
            else:
                power += np.where(t >= begun, leg.power, 0)
            begun += leg.length_s
        swing = np.sin(2 * np.pi * t / self.wander_s)
        altitude += self.wander_ft * swing + rng.normal(0, self.gusts_ft, len(t))
        heading += self.wander_deg * swing + rng.normal(0, 0.3, len(t))
        for values, grain in ((altitude, self.grain_ft), (heading, self.grain_deg)):
            if grain:
                values[:] = np.round(values / grain) * grain
        return {
            "altitude_ft": altitude,
            "heading_deg": np.mod(heading, 360),
            "power": np.clip(power + rng.normal(0, 0.004, len(t)), 0, 1),
            "airspeed_kt": 95 + rng.normal(0, 1, len(t)),
            "pitch_deg": 2 + rng.normal(0, 0.3, len(t)),
            "bank_deg": rng.normal(0, 1, len(t)),
        }


flights = st.builds(
    Flight,
    legs=st.lists(st.one_of(climbs, turns, both, changes), min_size=2, max_size=6).map(
        lambda legs: (Leg(), *legs)
    ),
    seed=st.integers(0, 2**32 - 1),
    first_ft=st.sampled_from([3000.0, 2045.0]),
    first_deg=st.sampled_from([0.0, 90.0, 180.0, 350.0]),
    wander_ft=st.sampled_from([0.0, 0.0, 60.0, 200.0]),
    wander_s=st.sampled_from([30.0, 70.0, 130.0]),
    wander_deg=st.sampled_from([0.0, 0.0, 8.0, 25.0]),
    gusts_ft=st.sampled_from([2.0, 5.0, 20.0]),
    grain_ft=st.sampled_from([0.0, 0.0, 1.0, 25.0]),
    grain_deg=st.sampled_from([0.0, 0.0, 1.0]),
)


@st.composite
def lesson_logs(draw: st.DrawFn) -> Log:
    """One session's log; most have no task."""
    flight = draw(flights)
    rng = np.random.default_rng(flight.seed + 1)
    t = _times(draw, flight.length_s, rng)
    values: dict[str, list[Value]] = {}
    for name, channel in flight.channels(t).items():
        channel = _happening(name, channel, t, flight.seed)
        values[name] = _recorded(draw, name, channel, rng)
    if draw(st.sampled_from([False, False, True])):
        grounded_s = draw(st.sampled_from([0.0, 4.0, 40.0]))
        values["on_ground"] = [bool(x < grounded_s) for x in t]
    offset_ms = draw(st.sampled_from([0, 0, 0, 0, 300, 170_000, -95_400]))
    t_ms = [int(x) + offset_ms for x in np.rint(t * 1000)]
    happened_s = _happening_s(t, flight.seed) + offset_ms / 1000
    return Log(t_ms, values, _tasks(draw, t_ms, round(happened_s, 3)))


def _times(draw: st.DrawFn, length_s: float, rng: np.random.Generator) -> Floats:
    """Seconds of the samples: 1 to 20 Hz, or one in 1.5 s; steady or uneven; with gaps, or hardly any."""
    step_s = draw(st.sampled_from([1.0, 1.0, 0.25, 0.2, 0.1, 0.05, 1.5]))
    if step_s < 0.2:
        length_s = min(length_s, 330)
    t = np.arange(0, length_s, step_s)
    if draw(st.sampled_from([False, False, True])):
        t = np.round(t + rng.uniform(0, 0.4 * step_s, len(t)), 3)
    for _ in range(draw(st.sampled_from([0, 0, 1, 2, 3]))):
        start = draw(st.floats(0, length_s, allow_subnormal=False))
        t = t[(t <= start) | (t > start + draw(st.sampled_from([1.2, 3.0, 9.5, 11.0, 40.0])))]
    return t[: draw(st.sampled_from([len(t)] * 12 + [0, 1, 2, 40]))]


def _happening_s(t: Floats, seed: int) -> float:
    """When something happens in the log."""
    return float(np.random.default_rng(seed + 2).uniform(0, t[-1] if len(t) else 1))


def _happening(name: str, channel: Floats, t: Floats, seed: int) -> Floats:
    """Now and then a jump, a lone wrong sample, or a pause, by the flight's seed."""
    what, at = seed % 6, _happening_s(t, seed)
    if what == 0 and name == "altitude_ft":
        return np.where(t > at, channel + 900, channel)
    if what == 1 and name == "heading_deg":
        return np.where(t > at, np.mod(channel + 120, 360), channel)
    if what == 2 and name in ("altitude_ft", "heading_deg") and len(t):
        spoiled = channel.copy()
        spoiled[int(np.searchsorted(t, at))] = 77
        return spoiled
    if what == 3 and len(t):
        paused = (t > at) & (t < at + 9)
        return np.where(paused, channel[int(np.searchsorted(t, at))], channel)
    return channel


def _recorded(draw: st.DrawFn, name: str, channel: Floats, rng: np.random.Generator) -> list[Value]:
    """The cells that a recorder leaves of a channel."""
    cells: list[Value] = [float(v) for v in np.asarray(channel, np.float32)]
    is_needed = name in ("altitude_ft", "heading_deg")
    manner = draw(st.sampled_from(["all"] * 6 + ["thin", "every third"] + ["none"] * 2))
    if manner == "none" and not is_needed:
        return [None] * len(cells)
    if manner == "thin":
        return [
            c if k else None
            for c, k in zip(cells, rng.uniform(0, 1, len(cells)) < 0.8, strict=True)
        ]
    if manner == "every third":
        return [c if i % 3 == 0 else None for i, c in enumerate(cells)]
    return cells


def _tasks(draw: st.DrawFn, t_ms: list[int], happened_s: float) -> list[Task]:
    """Now and then a task or two, clipped to the log as landing does; some begin as something happens."""
    if len(t_ms) < 2:
        return []
    tasks = []
    first_s, last_s = t_ms[0] / 1000, t_ms[-1] / 1000
    start = draw(st.sampled_from([first_s, first_s, happened_s]))
    for _ in range(draw(st.sampled_from([0, 0, 0, 1, 2]))):
        start += draw(st.sampled_from([0.0, 31.5, 100.0, 200.0]))
        end = min(start + draw(st.sampled_from([15.0, 60.0, 120.25, 400.0])), last_s)
        kind = draw(st.sampled_from(["level", "level_off", "turn", "power_change"]))
        if end > start:
            tasks.append(Task(start, end, kind))
        start = end
    return tasks


def searchable(*logs: Log) -> list[Log]:
    """The same logs as sessions of their own, but for the last: a second revision of the first session."""
    count = len(logs) - 1
    return [
        replace(log, session_id=f"S{i % count}", revision=1 + i // count)
        for i, log in enumerate(logs)
    ]
