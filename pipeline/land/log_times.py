"""When each row of a log was sampled: milliseconds from the session's start."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from pipeline.land.log_cells import LogCells, as_numbers
from pipeline.schema.channels import CLOCK_COLUMN, ELAPSED_COLUMN

LONGEST_SESSION_S: Final = 172_800
"""Two days: a time further from the session's start is no time of that session."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_LEAP_SECOND: Final = re.compile(r":60(?=\D|$)")


@dataclass(frozen=True)
class LogTimes:
    """`ms` from the session's start, NaN where a row has no usable time.

    `bad` are the rows whose cell is not blank and yet no time, `naive` how many of them only lack
    an offset.
    """

    column: str
    ms: NDArray[np.float64]
    bad: NDArray[np.int64]
    naive: int = 0


def read_times(cells: LogCells, started_at: datetime) -> LogTimes:
    """The time of every row, from `time_s` or else from `timestamp`."""
    if _has_elapsed(cells):
        numbers = as_numbers(cells.columns[ELAPSED_COLUMN], np.float64)
        return bounded_times(
            ELAPSED_COLUMN, numbers.values.astype(np.float64) * 1000.0, numbers.bad
        )
    column = cells.columns[CLOCK_COLUMN]
    if not pa.types.is_timestamp(column.type):
        return _from_text(column, started_at)
    moments = pc.cast(column, pa.timestamp("ns", tz="UTC"), safe=False)
    ns = pc.cast(moments, pa.int64()).fill_null(0).to_numpy(zero_copy_only=False)
    start_ns = (started_at - _EPOCH) // timedelta(microseconds=1) * 1000
    ms = (ns - start_ns) / 1e6
    if column.null_count:
        ms[column.is_null().to_numpy(zero_copy_only=False)] = np.nan
    return bounded_times(CLOCK_COLUMN, ms, np.empty(0, np.int64))


def _has_elapsed(cells: LogCells) -> bool:
    """Whether `time_s` is there; one without any value gives way to `timestamp`."""
    if ELAPSED_COLUMN not in cells.columns:
        return False
    elapsed = cells.columns[ELAPSED_COLUMN]
    return CLOCK_COLUMN not in cells.columns or elapsed.null_count < len(elapsed)


def bounded_times(
    column: str, ms: NDArray[np.float64], bad: NDArray[np.int64], naive: int = 0
) -> LogTimes:
    """The times of a column; one that lies too far from the session's start is bad."""
    far = np.flatnonzero(np.abs(ms) > LONGEST_SESSION_S * 1000.0)
    if len(far):
        ms = ms.copy()
        ms[far] = np.nan
    return LogTimes(column, ms, np.sort(np.concatenate((bad, far))), naive)


def _from_text(column: pa.Array, started_at: datetime) -> LogTimes:
    ms = np.full(len(column), np.nan)
    bad: list[int] = []
    naive = 0
    for index, text in enumerate(column.to_pylist()):
        if text is None or not text.strip():
            continue
        moment = parse_moment(text.strip())
        if moment is None or moment.tzinfo is None:
            naive += moment is not None
            bad.append(index)
        else:
            ms[index] = (moment - started_at) / timedelta(milliseconds=1)
    return bounded_times(CLOCK_COLUMN, ms, np.asarray(bad, np.int64), naive)


def parse_moment(text: str) -> datetime | None:
    """An ISO 8601 moment, None where it is none. A leap second (23:59:60) is the first of the next
    minute.
    """
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    whole = _LEAP_SECOND.sub(":59", text, count=1)
    if whole == text:
        return None
    try:
        return datetime.fromisoformat(whole) + timedelta(seconds=1)
    except (ValueError, OverflowError):
        return None
