"""Spikes: one sample far from both its neighbours, which lie close together and are calm.

An aeroplane cannot go there and back between three samples; the sample is no measurement.
"""

from typing import Final

import numpy as np

from pipeline.land.checks.track import (
    JUMP_AIRSPEED_KT,
    JUMP_AIRSPEED_KT_PER_S,
    JUMP_ALTITUDE_FT,
    JUMP_ALTITUDE_FT_PER_S,
    JUMP_HEADING_DEG,
    JUMP_HEADING_DEG_PER_S,
    Rows,
    Series,
    Track,
)
from pipeline.land.gates import Gate, Severity

_LIMITS: Final = {
    "altitude_ft": (JUMP_ALTITUDE_FT, JUMP_ALTITUDE_FT_PER_S),
    "heading_deg": (JUMP_HEADING_DEG, JUMP_HEADING_DEG_PER_S),
    "airspeed_kt": (JUMP_AIRSPEED_KT, JUMP_AIRSPEED_KT_PER_S),
}
CALM_SHARE: Final = 0.25
"""The neighbours of a spike differ from each other, and from theirs, by less than this part of the
limit.
"""

MANY_SHARE: Final = 0.01


def spikes_of(track: Track) -> dict[str, Rows]:
    """The rows of spikes by channel, empty where there is none."""
    found = {}
    for name, (base, per_s) in _LIMITS.items():
        series = track.series(name)
        if series is not None and len(series.values) > 4:
            rows = _spikes(series, base, per_s, track.gap_limit_s)
            if len(rows):
                found[name] = rows
    return found


def _spikes(series: Series, base: float, per_s: float, gap_limit_s: float) -> Rows:
    is_far = series.far(base, per_s)
    # Change k leads to sample k + 1 and change k + 1 away from it.
    at = np.flatnonzero(is_far[:-1] & is_far[1:])
    at = at[np.sign(series.steps[at]) != np.sign(series.steps[at + 1])]
    at = at[(at > 0) & (at + 2 < len(series.steps))]
    calm = CALM_SHARE * base
    is_back = np.abs(series.steps[at] + series.steps[at + 1]) <= calm
    at = at[is_back & (series.sizes[at - 1] <= calm) & (series.sizes[at + 2] <= calm)]
    seconds = series.seconds
    at = at[seconds[at + 2] - seconds[at] <= 2 * gap_limit_s]
    found: Rows = series.rows[at + 1]
    return found


def spike_gate(track: Track, name: str, rows: Rows) -> Gate:
    """What became of a channel's spikes."""
    values, seconds = track.values[name], track.seconds
    first = int(rows[0])
    count = "1 sample" if len(rows) == 1 else f"{len(rows)} samples"
    said = (
        f"{count} of {name} far from both neighbours, the first {values[first]:g} between "
        f"{values[first - 1]:g} and {values[first + 1]:g}, became NULL"
    )
    is_many = len(rows) > MANY_SHARE * len(values)
    severity: Severity = "suspect" if is_many else "warning"
    return Gate("spikes", severity, name, len(rows), seconds[first], seconds[rows[-1]], said)
