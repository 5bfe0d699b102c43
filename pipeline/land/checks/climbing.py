"""Logged vertical speed against altitude: over half a minute both must tell the same climb.

A quotient of altitude over ten seconds and more should match the mean vertical speed. A mechanical
instrument lags by 6 to 9 s; a first-order lag puts the mean off by the lag times the change of what
is shown, over the window, and that much is allowed for.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pipeline.land.checks.track import Track
from pipeline.land.gates import Gate

WINDOW_S: Final = 30.0
LIMIT_FPM: Final = 200.0
LAG_S: Final = 9.0
DISAGREEING_SHARE: Final = 0.2
LEAST_WINDOWS: Final = 3
"""Ours: as many windows, and this part of all, must differ by more than the limit."""


def climb_gates(track: Track) -> Iterator[Gate]:
    """One gate where logged and derived vertical speed disagree too often."""
    known = _both_known(track)
    if known is None:
        return
    seconds, altitude, speed = known
    cuts = np.searchsorted(seconds, np.arange(seconds[0], seconds[-1], WINDOW_S))
    cuts = np.unique(cuts)
    steps = np.diff(seconds)
    climbed = np.concatenate(([0.0], np.cumsum(steps * (speed[1:] + speed[:-1]) / 120)))
    lost = np.concatenate(([0.0], np.cumsum(np.where(steps > track.gap_limit_s, steps, 0.0))))
    span = np.diff(seconds[cuts])
    is_whole = (np.diff(lost[cuts]) == 0) & (span > WINDOW_S / 2)
    if is_whole.sum() < LEAST_WINDOWS:
        return
    minutes = span[is_whole] / 60
    derived = np.diff(altitude[cuts])[is_whole] / minutes
    logged = np.diff(climbed[cuts])[is_whole] / minutes
    series = track.series("altitude_ft")
    limit = LIMIT_FPM + 60 / WINDOW_S * (series.resolution if series is not None else 0.0)
    limit = limit + LAG_S * np.abs(np.diff(speed[cuts])[is_whole]) / span[is_whole]
    is_other = np.abs(derived - logged) > limit
    if is_other.sum() < max(LEAST_WINDOWS, DISAGREEING_SHARE * len(derived)):
        return
    yield _gate(derived, logged, is_other, seconds)


def _both_known(
    track: Track,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]] | None:
    """Seconds, altitude and vertical speed in the rows that have both."""
    if not {"altitude_ft", "vertical_speed_fpm"} <= track.values.keys():
        return None
    altitude, speed = track.values["altitude_ft"], track.values["vertical_speed_fpm"]
    rows = np.flatnonzero(~(np.isnan(altitude) | np.isnan(speed)))
    if len(rows) < 2:
        return None
    return track.seconds[rows], altitude[rows].astype(np.float64), speed[rows].astype(np.float64)


def _gate(
    derived: NDArray[np.float64],
    logged: NDArray[np.float64],
    is_other: NDArray[np.bool_],
    seconds: NDArray[np.float64],
) -> Gate:
    worst = int(np.argmax(np.abs(derived - logged)))
    said = (
        f"in {is_other.sum()} of {len(derived)} half minutes vertical_speed_fpm tells another climb "
        f"than altitude_ft, at worst {logged[worst]:.0f} against {derived[worst]:.0f} ft/min"
    )
    energy = float(np.dot(logged, logged))
    slope = float(np.dot(logged, derived)) / energy if energy > 0 else 0.0
    if slope < -0.5:
        said += "; its sign seems turned"
    elif energy > 0 and not 0.5 < slope < 2:
        said += f"; altitude changes {slope:.3g} times as much: a unit may be wrong"
    start, end = float(seconds[0]), float(seconds[-1])
    name = "vertical_speed_fpm"
    return Gate("vertical_speed_disagrees", "suspect", name, len(seconds), start, end, said)
