"""Local times to UTC: an hour that happens twice, one that does not exist.

The rules of each zone are those of the tz database, through `zoneinfo`.
"""

from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

Micros = NDArray[np.int64]

_BLOCK_US: Final = 900_000_000
"""Zones change their offset at whole quarter-hours; within one, an offset is looked up once."""

_DISORDER_US: Final = 600_000_000
"""Time that goes back by less than this is a recorder's disorder, not an hour that begins again."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)


def zone_fault(name: str) -> str | None:
    """What is wrong with a zone's name, as the middle of a sentence; None where it is known."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return f"{name!r} is no zone of the tz database; write it as UTC or Europe/Oslo"
    return None


def to_utc(
    local_us: Micros, zone_name: str, started_at: datetime | None
) -> tuple[Micros, NDArray[np.bool_]]:
    """Microseconds of UTC for microseconds on a local clock (both from 1970), and which rows have
    a time that the zone skips.

    Of the two moments of an hour that happens twice, the first that does not lie before the row
    above is taken; for the first row, the one nearest to the session's start (None: the first).
    """
    zone = ZoneInfo(zone_name)
    blocks, place = np.unique(local_us // _BLOCK_US, return_inverse=True)
    first, second = (_offsets(blocks, zone, fold)[place] for fold in (0, 1))
    # Where the clock skips, the later reading has the larger offset; where it repeats, the smaller.
    is_skipped = second > first
    earlier, later = local_us - first, local_us - second
    chosen = earlier.copy()
    for row in np.flatnonzero(second < first):
        before = chosen[row - 1] - _DISORDER_US if row else None
        if before is None:
            is_first_pass = not _is_nearer(later[0], earlier[0], started_at)
        else:
            is_first_pass = bool(earlier[row] >= before)
        chosen[row] = earlier[row] if is_first_pass else later[row]
    return chosen, is_skipped


def _is_nearer(moment: np.int64, other: np.int64, started_at: datetime | None) -> bool:
    if started_at is None:
        return False
    start_us = (started_at - _EPOCH) // _MICROSECOND
    return bool(abs(moment - start_us) < abs(other - start_us))


def _offsets(blocks: Micros, zone: ZoneInfo, fold: int) -> Micros:
    """The zone's offset from UTC at the beginning of each quarter-hour on the local clock."""
    found = []
    for block in blocks.tolist():
        moment = _EPOCH + block * _BLOCK_US * _MICROSECOND
        offset = moment.replace(tzinfo=zone, fold=fold).utcoffset() or timedelta(0)
        found.append(offset // _MICROSECOND)
    return np.asarray(found, np.int64)
