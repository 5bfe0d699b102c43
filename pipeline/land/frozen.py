"""Frozen sensors: a channel that stands still to the bit while the aeroplane moves.

A channel that repeats the same value for over a minute is frozen only if another channel of the
same motion says that it should have moved: vertical speed and pitch for altitude, bank for heading,
and so on. Which motion is needed allows for coarse recorders: an altitude in 25 ft steps may
rightly stand still in level flight.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pipeline.land.gates import MOST_FINDINGS, Gate, Severity

FROZEN_S: Final = 60.0
STILL_VERTICAL_SPEED_FPM: Final = 20.0
CLEAR_CLIMB_FPM: Final = 100.0
CLEAR_PITCH_DEG: Final = 3.0
STILL_BANK_DEG: Final = 1.0
CLEAR_TURN_DEG: Final = 20.0
CLEAR_ALTITUDE_FT: Final = 100.0
FINE_ALTITUDE_STEP_FT: Final = 10.0
USUAL_AIRSPEED_KT: Final = 100.0
TURN_CONSTANT: Final = 1091.0
"""Degrees per second of a level turn = 1091 x tan(bank) / knots (g in knots and degrees; pilots'
handbooks).
"""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stretch:
    """One channel standing still: its own smallest step, and every channel over the same rows."""

    seconds: Floats
    own_step: float
    values: Mapping[str, Floats]

    @property
    def hidden(self) -> float:
        """How far the channel may wander about a drift without leaving one of its steps."""
        return 2 * self.own_step

    def range_of(self, channel: str) -> float:
        """How far a channel went from lowest to highest; 0 where it has no two values."""
        known = self.known(channel)[1]
        return float(known.max() - known.min()) if len(known) > 1 else 0.0

    def known(self, channel: str) -> tuple[Floats, Floats]:
        """The seconds and values where the channel has one."""
        values = self.values.get(channel, np.empty(0))
        is_known = ~np.isnan(values)
        return self.seconds[: len(values)][is_known], values[is_known]

    def path_range(self, seconds: Floats, rate: Floats) -> float:
        """How far a quantity wandered about its mean drift, given its rate per second."""
        if len(seconds) < 2:
            return 0.0
        steps = np.diff(seconds) * (rate[1:] + rate[:-1]) / 2
        drift = np.linspace(0, steps.sum(), len(seconds))
        path = np.concatenate(([0.0], np.cumsum(steps))) - drift
        return float(path.max() - path.min())


def _altitude_moves(stretch: Stretch) -> str | None:
    seconds, speed = stretch.known("vertical_speed_fpm")
    if stretch.range_of("vertical_speed_fpm") > STILL_VERTICAL_SPEED_FPM:
        is_climbing = abs(float(speed.mean())) > CLEAR_CLIMB_FPM + stretch.own_step
        if is_climbing or stretch.path_range(seconds, speed / 60) > stretch.hidden:
            return "vertical_speed_fpm"
    is_fine = stretch.own_step <= FINE_ALTITUDE_STEP_FT
    return "pitch_deg" if is_fine and stretch.range_of("pitch_deg") > CLEAR_PITCH_DEG else None


def _heading_moves(stretch: Stretch) -> str | None:
    seconds, bank = stretch.known("bank_deg")
    if stretch.range_of("bank_deg") <= STILL_BANK_DEG:
        return None
    airspeed = stretch.known("airspeed_kt")[1]
    flown = float(np.median(airspeed)) if len(airspeed) else 0.0
    knots = flown if flown > 30 else USUAL_AIRSPEED_KT
    rate = TURN_CONSTANT * np.tan(np.radians(np.clip(bank, -60, 60))) / knots
    turned = abs(float(rate.mean())) * float(seconds[-1] - seconds[0])
    is_turning = turned > CLEAR_TURN_DEG + stretch.own_step
    return "bank_deg" if is_turning or stretch.path_range(seconds, rate) > stretch.hidden else None


def _vertical_speed_moves(stretch: Stretch) -> str | None:
    seconds, altitude = stretch.known("altitude_ft")
    speed = stretch.known("vertical_speed_fpm")[1]
    if stretch.range_of("altitude_ft") <= CLEAR_ALTITUDE_FT:
        return None
    unexplained = altitude - float(speed[0]) / 60 * (seconds - seconds[0])
    return "altitude_ft" if float(np.ptp(unexplained)) > CLEAR_ALTITUDE_FT else None


def _bank_moves(stretch: Stretch) -> str | None:
    heading = stretch.known("heading_deg")[1]
    bank = stretch.known("bank_deg")[1]
    if len(heading) < 2 or abs(float(bank[0])) > STILL_BANK_DEG:
        return None
    turned = np.unwrap(heading, period=360)
    return "heading_deg" if float(np.ptp(turned)) > CLEAR_TURN_DEG else None


@dataclass(frozen=True)
class _Rule:
    channel: str
    unknown_step: float
    severity: Severity
    moves: Callable[[Stretch], str | None]


_RULES: Final = (
    _Rule("altitude_ft", 1.0, "not_scored", _altitude_moves),
    _Rule("heading_deg", 1.0, "not_scored", _heading_moves),
    _Rule("vertical_speed_fpm", 10.0, "suspect", _vertical_speed_moves),
    _Rule("bank_deg", 1.0, "suspect", _bank_moves),
)


def frozen_gates(
    t_ms: NDArray[np.int32], values: Mapping[str, NDArray[np.float32]]
) -> tuple[Gate, ...]:
    """One gate per stretch of over a minute in which a channel stood still though the aeroplane
    moved.

    Time on the ground does not count. `not_scored` where altitude or heading itself is frozen.
    """
    found = [gate for rule in _RULES for gate in _of_channel(rule, t_ms, values)]
    return tuple(found)


def _of_channel(
    rule: _Rule, t_ms: NDArray[np.int32], values: Mapping[str, NDArray[np.float32]]
) -> Iterator[Gate]:
    if rule.channel not in values:
        return
    own = values[rule.channel]
    is_flown = ~np.isnan(own)
    if "on_ground" in values:
        is_flown &= values["on_ground"] != 1
    rows = np.flatnonzero(is_flown)
    if not _may_stand_still(t_ms[rows], own[rows]):
        return
    runs = _still_runs(t_ms[rows] / 1000.0, own[rows])
    own_step = _smallest_step(own[rows], rule.unknown_step)
    for first, last in runs[:MOST_FINDINGS]:
        span = slice(int(rows[first]), int(rows[last]) + 1)
        seconds = t_ms[span] / 1000.0
        parts = {name: v[span].astype(np.float64) for name, v in values.items()}
        moved = rule.moves(Stretch(seconds, own_step, parts))
        if moved is not None:
            yield _gate(rule, float(own[rows[first]]), seconds, int(last - first + 1), moved)


def _may_stand_still(t_ms: NDArray[np.int32], values: NDArray[np.float32]) -> bool:
    """A look every half of FROZEN_S: a run that long shows twice. Spares the whole-array work."""
    if len(values) < 2:
        return False
    looks = np.arange(t_ms[0], t_ms[-1], FROZEN_S * 500)
    seen = values[np.searchsorted(t_ms, looks)]
    return bool((np.diff(seen) == 0).any())


def _still_runs(seconds: Floats, values: NDArray[np.float32]) -> NDArray[np.int64]:
    """First and last index of each run of equal values over FROZEN_S long; a gap in the samples
    ends one.
    """
    steps = np.diff(seconds)
    gap_limit = max(1.5, 2.5 * float(np.median(steps)))
    edges = np.flatnonzero((np.diff(values) != 0) | (steps > gap_limit))
    first = np.concatenate(([0], edges + 1))
    last = np.concatenate((edges, [len(values) - 1]))
    is_long = seconds[last] - seconds[first] > FROZEN_S
    return np.column_stack((first[is_long], last[is_long]))


def _smallest_step(values: NDArray[np.float32], unknown: float) -> float:
    """The channel's resolution as seen in the session; `unknown` where it never changed."""
    steps = np.abs(np.diff(values))
    moved = steps[steps > 0]
    return float(moved.min()) if len(moved) else unknown


def _gate(rule: _Rule, value: float, seconds: Floats, affected: int, moved: str) -> Gate:
    start, end = float(seconds[0]), float(seconds[-1])
    detail = (
        f"{rule.channel} stood at {value:g} to the bit for {end - start:.0f} s while {moved} moved"
    )
    return Gate("frozen", rule.severity, rule.channel, affected, start, end, detail)
