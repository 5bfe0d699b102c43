"""What an altimeter shows at another setting than the standard one.

The U.S. Standard Atmosphere 1976 (as ICAO Doc 7488): 1013.25 hPa and 288.15 K at sea level, 6.5 K
colder per kilometre. 14 CFR Part 43, Appendix E, Table IV lists the same differences.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pipeline.land.profiles.units import factor_to

STANDARD_HPA: Final = 1013.25
LEAST_HPA: Final = 850.0
MOST_HPA: Final = 1085.0
"""No altimeter can be set beyond these (25.1 and 32.0 inHg)."""

_KELVIN: Final = 288.15
_KELVIN_PER_M: Final = 0.0065
_GAS_CONSTANT: Final = 287.05287
_GRAVITY: Final = 9.80665
_EXPONENT: Final = _GAS_CONSTANT * _KELVIN_PER_M / _GRAVITY

Floats = NDArray[np.float64]


def pressure_altitude_ft(pressure_hpa: Floats) -> Floats:
    """The altitude in feet at which the standard atmosphere has a pressure (below the tropopause)."""
    metres = _KELVIN / _KELVIN_PER_M * (1 - (pressure_hpa / STANDARD_HPA) ** _EXPONENT)
    return np.asarray(metres * factor_to("m", "ft"), np.float64)


def setting_difference_ft(setting_hpa: Floats) -> Floats:
    """What is added to pressure altitude to give the altitude indicated at a setting."""
    return -pressure_altitude_ft(setting_hpa)


def held_settings(setting_hpa: Floats) -> Floats:
    """The setting at every row: the last one told, and before it the first; NaN where none was.

    One that no altimeter can be set to counts as not told.
    """
    is_told = (setting_hpa >= LEAST_HPA) & (setting_hpa <= MOST_HPA)
    told = np.flatnonzero(is_told)
    if not len(told):
        return np.full(len(setting_hpa), np.nan)
    last = np.maximum(np.searchsorted(told, np.arange(len(setting_hpa)), side="right") - 1, 0)
    return np.asarray(setting_hpa[told[last]], np.float64)
