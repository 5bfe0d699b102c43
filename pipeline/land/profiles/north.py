"""How far magnetic north lies from true north, by the World Magnetic Model.

The model is NOAA's and the British Geological Survey's, through the library pygeomag: WMM2025 for
2025 to 2029, the models before it for earlier years.
"""

from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from pygeomag import GeoMag

Floats = NDArray[np.float64]

CELL_DEG: Final = 0.5
"""Declination is computed at corners this far apart and is linear between them."""

MOST_CORNERS: Final = 2000
"""No lesson crosses more of them; positions that do are none."""

_MODELS: Final = {2025: "WMM_2025.COF", 2020: "WMM_2020.COF", 2015: "WMM_2015v2.COF"}
_YEARS: Final = 5
MODEL_END: Final = max(_MODELS) + _YEARS


def declination_deg(
    latitude_deg: float, longitude_deg: float, year: float, altitude_km: float = 0.0
) -> float:
    """Magnetic declination in degrees, east positive; `year` is decimal.

    Raises ValueError where no model covers the year or a compass points nowhere.
    """
    first = next((y for y in _MODELS if y <= year < y + _YEARS), None)
    if first is None:
        raise ValueError(
            f"the magnetic models run from {min(_MODELS)} to {MODEL_END}, not to {year:.1f}; "
            "give variation_deg in the profile"
        )
    east = (longitude_deg + 180) % 360 - 180
    result = _model(first).calculate(latitude_deg, east, altitude_km, year)
    if result.in_blackout_zone:
        raise ValueError("so near to a magnetic pole a compass points nowhere")
    return float(result.d)


def declinations_deg(latitude_deg: Floats, longitude_deg: Floats, day: date) -> Floats:
    """Declination at each position on a day; where the position is not known (NaN), between the
    known ones.

    Raises ValueError where no position is known, they are too far apart, or no model serves.
    """
    is_place = (np.abs(latitude_deg) <= 90) & (np.abs(longitude_deg) <= 180)
    known = np.flatnonzero(is_place)
    if not len(known):
        raise ValueError("no row has a position")
    south = np.minimum(np.floor(latitude_deg[known] / CELL_DEG), 90 / CELL_DEG - 1)
    west = np.floor(longitude_deg[known] / CELL_DEG)
    up, right = latitude_deg[known] / CELL_DEG - south, longitude_deg[known] / CELL_DEG - west
    corners = [(south + a, west + b) for a in (0, 1) for b in (0, 1)]
    values = _at_corners(corners, decimal_year(day))
    lower = values[0] + right * _turn(values[1] - values[0])
    upper = values[2] + right * _turn(values[3] - values[2])
    found = lower + up * _turn(upper - lower)
    rows = np.arange(len(latitude_deg))
    return np.asarray(np.interp(rows, known, np.unwrap(found, period=360)), np.float64)


def _at_corners(corners: list[tuple[Floats, Floats]], year: float) -> list[Floats]:
    """Declination at the four corners of each position, each corner of the map computed once."""
    places = np.concatenate([np.column_stack(corner) for corner in corners])
    found, place = np.unique(places, axis=0, return_inverse=True)
    if len(found) > MOST_CORNERS:
        raise ValueError("the positions are too far apart for one session")
    values = np.asarray(
        [declination_deg(a * CELL_DEG, b * CELL_DEG, year) for a, b in found.tolist()]
    )
    return list(values[place.ravel()].reshape(4, -1))


def _turn(difference_deg: Floats) -> Floats:
    return (difference_deg + 180) % 360 - 180


def decimal_year(day: date) -> float:
    """A day as a decimal year: 2026-07-02 is about 2026.5."""
    start, end = date(day.year, 1, 1), date(day.year + 1, 1, 1)
    return day.year + (day - start).days / (end - start).days


@cache
def _model(first_year: int) -> "GeoMag":
    from pygeomag import GeoMag

    return GeoMag(coefficients_file=f"wmm/{_MODELS[first_year]}")
