"""From a recorder's unit to a channel's, by the units library Pint: no table of our own."""

import re
from functools import cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pint import UnitRegistry

SHARES: Final = frozenset({"travel", "fraction"})
"""Units of channels that are a part of a whole: full travel, full power."""

_NAME: Final = re.compile(r"[A-Za-zµ°%][A-Za-zµ°%_/ ]{0,29}")


@cache
def factor_to(unit: str, wanted: str) -> float:
    """What a reading in `unit` is multiplied by to be in `wanted`, a channel's unit.

    Raises ValueError with the middle of a sentence where there is no such unit or it measures
    something else.
    """
    import pint

    # Names and "/" only: an expression with powers could be made to take for ever.
    if not _NAME.fullmatch(unit):
        raise ValueError(f"{unit!r} is no unit")
    registry = _registry()
    try:
        given = registry.Quantity(1.0, "dimensionless" if unit in SHARES else unit)
        target = "dimensionless" if wanted in SHARES else wanted
        return float(given.to(target).magnitude)
    except pint.DimensionalityError:
        raise ValueError(f"{unit!r} does not measure what {wanted!r} does") from None
    except (pint.PintError, AttributeError, ValueError, TypeError):
        raise ValueError(f"{unit!r} is no unit that is known; try m, ft, km/h or percent") from None


@cache
def _registry() -> "UnitRegistry[float]":
    """Loaded on first use: it takes a third of a second."""
    import pint

    registry: UnitRegistry[float] = pint.UnitRegistry()
    registry.define("fpm = foot / minute")
    return registry
