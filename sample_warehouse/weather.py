"""The air: gusts along, up and rolling, one lane per flight.

First-order gusts with the scales of the Dryden form at low altitude (MIL-F-8785C): the vertical
gust's standard deviation is a tenth of the wind at 20 ft (15, 30, 45 kt are that document's light,
moderate, severe), its length 1750 ft. What the school declares as `light` and `smooth` stays below
that document's light.
"""

import numpy as np
from numpy.typing import NDArray

from sample_warehouse.flight import FT_S_PER_KT, Lanes

WIND_KT = {"smooth": 0.6, "light": 7.0, "moderate": 20.0, "rough": 34.0}
GUST_LENGTH_FT = 1750.0
ROLL_MEMORY_S = 1.5


class Air:
    """Gusts that go on from step to step; each lane draws from its own source."""

    def __init__(self, airs: list[str], draws: list[np.random.Generator], steps: int) -> None:
        wind = np.array([WIND_KT[air] for air in airs])
        self.scale = 0.1 * wind * FT_S_PER_KT
        self.roll_scale = np.radians(0.4 + 0.09 * wind)
        shocks = np.array([draw.standard_normal((steps, 3)) for draw in draws], dtype=np.float32)
        self.shocks: NDArray[np.float32] = np.ascontiguousarray(shocks.transpose(1, 2, 0))
        self.along, self.up, self.roll = (np.zeros(len(airs)) for _ in range(3))

    def blow(self, step: int, speed: Lanes, step_s: float) -> None:
        """Move the gusts on by one step, at an airspeed in ft/s."""
        along, up, roll = self.shocks[step]
        memory_s = GUST_LENGTH_FT / speed
        kick = np.sqrt(2 * step_s / memory_s) * self.scale
        self.along += step_s / memory_s * -self.along + kick * along
        self.up += step_s / memory_s * -self.up + kick * up
        roll_kick = np.sqrt(2 * step_s / ROLL_MEMORY_S) * self.roll_scale
        self.roll += step_s / ROLL_MEMORY_S * -self.roll + roll_kick * roll
