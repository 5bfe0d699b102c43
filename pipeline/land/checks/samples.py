"""All checks of a log's samples, in one pass."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.land.checks.breaks import pause_gates, step_gates
from pipeline.land.checks.climbing import climb_gates
from pipeline.land.checks.rates import rate_gates
from pipeline.land.checks.resolution import coarse_gates
from pipeline.land.checks.spikes import spike_gate, spikes_of
from pipeline.land.checks.track import Track
from pipeline.land.frozen import frozen_gates
from pipeline.land.gates import Gate

Values = Mapping[str, NDArray[np.float32]]


@dataclass(frozen=True)
class CheckedSamples:
    """The channels without their spikes, and every finding."""

    values: dict[str, NDArray[np.float32]]
    gates: tuple[Gate, ...]


def check_samples(t_ms: NDArray[np.int32], values: Values) -> CheckedSamples:
    """What the checks find in samples whose times strictly increase; spikes become NaN."""
    raw = Track(t_ms, values)
    spikes = spikes_of(raw)
    gates = [spike_gate(raw, name, rows) for name, rows in spikes.items()]
    clean = dict(values)
    for name, rows in spikes.items():
        clean[name] = values[name].copy()
        clean[name][rows] = np.nan
    track = Track(t_ms, clean) if spikes else raw
    gates += frozen_gates(t_ms, clean)
    for check in (rate_gates, coarse_gates, pause_gates, step_gates, climb_gates):
        gates += check(track)
    return CheckedSamples(clean, tuple(gates))
