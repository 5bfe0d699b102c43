"""When a log begins, from the log itself, where it tells the time of day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.land.faults import RefusedFile
from pipeline.land.inbox import LOG_ENDINGS
from pipeline.land.log_bytes import read_bytes, unpack
from pipeline.land.log_cells import LogCells
from pipeline.land.log_csv import read_csv_log
from pipeline.land.log_parquet import read_parquet_log
from pipeline.land.log_times import parse_moment
from pipeline.land.profiles.model import Profile
from pipeline.land.profiles.reading import read_delivered
from pipeline.land.profiles.times import read_clock
from pipeline.schema.channels import CLOCK_COLUMN, ELAPSED_COLUMN
from pipeline.settings import Landing

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def start_of_log(log: Path, profile: Profile | None, limits: Landing) -> datetime | None:
    """The earliest moment that the log at `log` tells; None where it tells none or cannot be read.

    A log without `profile` is in the canonical form. Why a log cannot be read is for landing to say.
    """
    ending = next((e for e in LOG_ENDINGS if log.name.lower().endswith(e)), ".csv")
    try:
        content = read_bytes(log.resolve(), log.name, limits.max_log_mb)
        if profile is not None:
            return first_moment(profile, content, log.name, ending, limits)
        return _canonical_moment(content, log.name, ending, limits)
    except RefusedFile:
        return None


def first_moment(
    profile: Profile, content: bytes, file: str, ending: str, limits: Landing
) -> datetime | None:
    """The earliest moment in a log's bytes as `profile` reads them; None where it counts seconds only,
    tells no date or has no time at all. Raises RefusedFile where the log cannot be read.
    """
    if profile.time.form in ("clock", "elapsed"):
        return None
    plain = _plain(content, file, ending, limits)
    cells = read_delivered(plain, file, profile, limits).cells
    micros = read_clock(profile.time, cells.columns, None).micros
    if np.isnan(micros).all():
        return None
    return _EPOCH + timedelta(microseconds=int(np.nanmin(micros)))


def _canonical_moment(content: bytes, file: str, ending: str, limits: Landing) -> datetime | None:
    plain = _plain(content, file, ending, limits)
    cells = (
        read_parquet_log(plain, file, limits.max_columns, limits.max_log_mb)
        if ending == ".parquet"
        else read_csv_log(plain, file, limits.max_columns)
    )
    counts = ELAPSED_COLUMN in cells.columns and CLOCK_COLUMN not in cells.columns
    return None if counts else _earliest(cells)


def _earliest(cells: LogCells) -> datetime | None:
    """The earliest of a log's time stamps, in whatever two days they lie."""
    if CLOCK_COLUMN not in cells.columns:
        return None
    column = cells.columns[CLOCK_COLUMN]
    if pa.types.is_timestamp(column.type):
        moments = pc.cast(column, pa.timestamp("us", tz="UTC"), safe=False)
        found: datetime | None = pc.min(moments).as_py()
        return None if found is None else found.astimezone(UTC)
    told = (parse_moment(text.strip()) for text in column.to_pylist() if text is not None)
    aware = [moment for moment in told if moment is not None and moment.tzinfo is not None]
    return min(aware, default=None)


def _plain(content: bytes, file: str, ending: str, limits: Landing) -> bytes:
    return unpack(content, file, limits.max_log_mb) if ending == ".csv.gz" else content
