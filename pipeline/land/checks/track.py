"""The samples of one session as the checks look at them: known values only, steps, the gap limit."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Rows = NDArray[np.int64]

LEAST_GAP_S: Final = 1.5
GAP_STEPS: Final = 2.5

JUMP_ALTITUDE_FT: Final = 100.0
JUMP_ALTITUDE_FT_PER_S: Final = 100.0
JUMP_HEADING_DEG: Final = 20.0
JUMP_HEADING_DEG_PER_S: Final = 30.0
JUMP_AIRSPEED_KT: Final = 20.0
JUMP_AIRSPEED_KT_PER_S: Final = 20.0
"""Ours: no aeroplane goes further between two samples than the first plus the second times the
seconds between them. For altitude and heading the shipped limits of the same name.
"""


@dataclass(frozen=True)
class Series:
    """One channel where it has a value: its rows in the log, seconds and values, and the change to
    each next value (a heading's the short way round).
    """

    name: str
    rows: Rows
    seconds: NDArray[np.float64]
    values: Floats

    @cached_property
    def steps(self) -> Floats:
        """The change from each value to the next."""
        steps = np.diff(self.values)
        if self.name == "heading_deg":
            steps = np.where(steps > 180, steps - 360, np.where(steps < -180, steps + 360, steps))
        return steps

    @cached_property
    def sizes(self) -> Floats:
        """The same without sign."""
        return np.abs(self.steps)

    @cached_property
    def resolution(self) -> float:
        """The smallest change that occurs; 0 where nothing changes."""
        moved = self.sizes[self.sizes > 0]
        return float(moved.min()) if len(moved) else 0.0

    def far(self, base: float, per_s: float) -> NDArray[np.bool_]:
        """Which changes are larger than `base` and `per_s` times their seconds together."""
        is_far = self.sizes > base
        if is_far.any():
            is_far &= self.sizes > base + per_s * np.diff(self.seconds)
        return is_far


@dataclass(frozen=True)
class Track:
    """A session's samples: `t_ms` from its start and the channels that were recorded."""

    t_ms: NDArray[np.int32]
    values: Mapping[str, Floats]

    @cached_property
    def seconds(self) -> NDArray[np.float64]:
        """The time of each row from the session's start."""
        return self.t_ms / 1000.0

    @cached_property
    def steps_s(self) -> NDArray[np.float64]:
        """Seconds from each row to the next."""
        return np.diff(self.t_ms) / 1000.0

    @cached_property
    def median_step_s(self) -> float:
        """The usual time between rows; 0 where there is one row only."""
        return float(np.median(self.steps_s)) if len(self.steps_s) else 0.0

    @cached_property
    def gap_limit_s(self) -> float:
        """A longer step is a gap, across which nothing is known."""
        return max(LEAST_GAP_S, GAP_STEPS * self.median_step_s)

    def series(self, name: str) -> Series | None:
        """One channel where it has values; None where it was not recorded."""
        if name not in self._series and name in self.values:
            self._series[name] = self._known(name)
        return self._series.get(name)

    @cached_property
    def _series(self) -> dict[str, Series]:
        return {}

    def _known(self, name: str) -> Series:
        values = self.values[name]
        is_blank = np.isnan(values)
        if not is_blank.any():
            return Series(name, np.arange(len(values)), self.seconds, values)
        rows = np.flatnonzero(~is_blank)
        return Series(name, rows, self.seconds[rows], values[rows])
