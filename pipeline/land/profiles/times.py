"""The time of every row of a recorder's log, by the form that its profile names."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from pipeline.land.log_cells import as_numbers
from pipeline.land.log_times import LogTimes, bounded_times
from pipeline.land.profiles.clocks import (
    DAY_US,
    DateOrder,
    clock_times,
    days,
    moments,
    over_midnight,
)
from pipeline.land.profiles.model import TimeColumn
from pipeline.land.profiles.units import factor_to
from pipeline.land.profiles.zones import to_utc
from pipeline.schema.channels import CLOCK_COLUMN, ELAPSED_COLUMN

Rows = NDArray[np.int64]

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)
_UNIX_MICROS: Final = {"us": 1.0, "ms": 1e3, "s": 1e6, "min": 6e7, "h": 3.6e9}


@dataclass(frozen=True)
class ClockReading:
    """Moments in microseconds since 1970 (NaN: none), rows whose cell is no moment, and how many of
    those only lack an offset.
    """

    micros: NDArray[np.float64]
    bad: Rows
    naive: int = 0


def read_profile_times(
    time_column: TimeColumn, columns: dict[str, pa.Array], started_at: datetime
) -> LogTimes:
    """Milliseconds from the session's start for every row, as `read_times` gives them."""
    if time_column.form == "elapsed":
        numbers = as_numbers(columns[time_column.column], np.float64)
        ms = numbers.values.astype(np.float64) * factor_to(time_column.unit, "ms")
        return bounded_times(ELAPSED_COLUMN, ms, numbers.bad)
    reading = read_clock(time_column, columns, started_at)
    start_us = (started_at - _EPOCH) // _MICROSECOND
    ms = (reading.micros - start_us) / 1e3
    return bounded_times(CLOCK_COLUMN, ms, reading.bad, reading.naive)


def read_clock(
    time_column: TimeColumn, columns: dict[str, pa.Array], started_at: datetime | None
) -> ClockReading:
    """The moment of every row of a log that tells the time of day (any form but elapsed).

    `started_at` gives the date where the log has none, and decides an hour that happens twice.
    """
    cells = columns[time_column.column]
    if time_column.form == "epoch":
        numbers = as_numbers(cells, np.float64)
        micros = np.asarray(numbers.values, np.float64) * _UNIX_MICROS[time_column.unit]
        return ClockReading(micros, numbers.bad)
    is_blank = cells.is_null().to_numpy(zero_copy_only=False)
    if time_column.form == "iso":
        return _iso(time_column, cells, is_blank, started_at)
    clock_us = clock_times(as_texts(cells))
    if time_column.form == "clock":
        day_us = _first_day(time_column, clock_us, started_at) + DAY_US * over_midnight(clock_us)
    else:
        dates = columns[str(time_column.date_column)]
        day_us = days(as_texts(dates), _order(time_column, dates))
    return _zoned(clock_us + day_us, is_blank, time_column.zone or "UTC", started_at)


def as_texts(cells: pa.Array) -> list[str | None]:
    """Cells as text: dates and times of Parquet in ISO 8601."""
    texts: list[str | None] = pc.cast(cells, pa.string()).to_pylist()
    return texts


def _order(time_column: TimeColumn, dates: pa.Array) -> DateOrder:
    return "ymd" if pa.types.is_date(dates.type) else time_column.date_order


def _first_day(
    time_column: TimeColumn, clock_us: NDArray[np.float64], started_at: datetime | None
) -> int:
    """The midnight before the first time of day, in microseconds on the local clock: of the day
    that brings it nearest to the session's start.
    """
    if started_at is None:
        raise ValueError("a clock without a date needs the session's start")
    start = started_at.astimezone(ZoneInfo(time_column.zone or "UTC")).replace(tzinfo=UTC)
    start_us = (start - _EPOCH) // _MICROSECOND
    known = clock_us[~np.isnan(clock_us)]
    days_away = (start_us - float(known[0])) / DAY_US if len(known) else start_us // DAY_US
    return round(days_away) * DAY_US


def _iso(
    time_column: TimeColumn,
    cells: pa.Array,
    is_blank: NDArray[np.bool_],
    started_at: datetime | None,
) -> ClockReading:
    if pa.types.is_timestamp(cells.type) and cells.type.tz is not None:
        micros = pc.cast(cells, pa.timestamp("us", tz="UTC"), safe=False).cast(pa.int64())
        return ClockReading(micros.to_numpy(zero_copy_only=False) * 1.0, np.empty(0, np.int64))
    micros, is_naive = moments(as_texts(cells))
    if time_column.zone is None:
        bad = np.flatnonzero((np.isnan(micros) & ~is_blank) | is_naive)
        micros[is_naive] = np.nan
        return ClockReading(micros, bad, int(is_naive.sum()))
    local = np.flatnonzero(is_naive)
    zoned = _zoned(micros[local], np.zeros(len(local), bool), time_column.zone, started_at)
    micros[local] = zoned.micros
    return ClockReading(micros, np.flatnonzero(np.isnan(micros) & ~is_blank))


def _zoned(
    local_us: NDArray[np.float64],
    is_blank: NDArray[np.bool_],
    zone: str,
    started_at: datetime | None,
) -> ClockReading:
    """Local microseconds as UTC; a time that the zone skips is no time."""
    known = np.flatnonzero(~np.isnan(local_us))
    micros = np.full(len(local_us), np.nan)
    if len(known):
        utc_us, is_skipped = to_utc(local_us[known].astype(np.int64), zone, started_at)
        micros[known] = np.where(is_skipped, np.nan, utc_us.astype(np.float64))
    return ClockReading(micros, np.flatnonzero(np.isnan(micros) & ~is_blank))
