"""One recorder's log read by its own columns; then as canonical cells."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.land.faults import RefusedFile, make_reason, shown
from pipeline.land.log_cells import LogCells, one_array
from pipeline.land.log_csv import CsvForm, check_width, read_cells, read_header
from pipeline.land.log_parquet import read_columns
from pipeline.land.log_times import LogTimes
from pipeline.land.profiles.body import body_of
from pipeline.land.profiles.conversion import convert
from pipeline.land.profiles.model import Profile
from pipeline.land.profiles.times import read_profile_times
from pipeline.reports import Reason
from pipeline.schema.channels import CHANNEL_BY_NAME
from pipeline.settings import Landing, nearest

_TEXT_TIMES: Final = frozenset({"iso", "date_and_clock", "clock"})


@dataclass(frozen=True)
class Delivered:
    """A recorder's columns by their own names, before anything is converted.

    `absent` are columns that the profile names and the log lacks (none of them is required).
    """

    cells: LogCells
    absent: tuple[str, ...] = ()


def read_with_profile(
    content: bytes, file: str, profile: Profile, started_at: datetime, limits: Landing
) -> tuple[LogCells, LogTimes, tuple[str, ...]]:
    """A log's cells under the channels' names and in their units, its rows' times, and the
    profile's columns that it lacks. Raises RefusedFile with every reason against it.
    """
    delivered = read_delivered(content, file, profile, limits)
    times = read_profile_times(profile.time, delivered.cells.columns, started_at)
    cells = convert(delivered.cells, profile, started_at.date(), file)
    return cells, times, delivered.absent


def read_delivered(content: bytes, file: str, profile: Profile, limits: Landing) -> Delivered:
    """The columns that the profile names, by their own names and unconverted."""
    if file.endswith(".parquet"):
        return _from_parquet(content, file, profile, limits)
    body = body_of(content, file, profile.text)
    form = CsvForm(profile.text.delimiter, profile.text.decimal, profile.text.blanks)
    header = read_header(body.content, file, form.delimiter)
    names = _found_columns(header, file, profile, limits)
    texts = _text_columns(profile)
    types = {h: pa.string() if n in texts else pa.float64() for n, h in names.items()}
    table, lines = read_cells(body.content, file, types, form)
    columns = {name: one_array(table.column(h)) for name, h in names.items()}
    if form.decimal != ".":
        columns = {n: c if n in texts else _with_point(c, form) for n, c in columns.items()}
    cells = LogCells(
        columns=columns,
        row_count=table.num_rows,
        ignored=_ignored(header, profile),
        cut_rows=tuple(line + body.lines_cut for line in lines.of_cut_rows()),
        row_of=lambda index: lines.of_row(index) + body.lines_cut,
    )
    return Delivered(cells, _absent(names, profile))


def _from_parquet(content: bytes, file: str, profile: Profile, limits: Landing) -> Delivered:
    def choose(header: list[str]) -> dict[str, str]:
        return _found_columns(header, file, profile, limits)

    header, columns, row_count = read_columns(content, file, choose, limits.max_log_mb)
    texts = _text_columns(profile)
    reasons = [
        make_reason(
            "wrong_type", file, f"the column holds {c.type}", "write it as numbers", column=n
        )
        for n, c in columns.items()
        if n not in texts and not _is_plain(c.type)
    ]
    if reasons:
        raise RefusedFile(reasons)
    cells = LogCells(columns, row_count, _ignored(header, profile))
    return Delivered(cells, _absent(columns, profile))


def _is_plain(kind: pa.DataType) -> bool:
    tests = (pa.types.is_floating, pa.types.is_integer, pa.types.is_decimal, pa.types.is_boolean)
    return any(test(kind) for test in (*tests, pa.types.is_string, pa.types.is_null))


def _text_columns(profile: Profile) -> set[str]:
    """Columns that are read as text: clocks, calendars, switches."""
    switches = {c.column for n, c in profile.channels.items() if not CHANNEL_BY_NAME[n].is_number}
    if profile.time.form in _TEXT_TIMES:
        switches |= {profile.time.column, profile.time.date_column or profile.time.column}
    return switches


def _with_point(cells: pa.Array, form: CsvForm) -> pa.Array:
    """Text that could not be read as numbers, with a point where the recorder writes another mark."""
    return (
        pc.replace_substring(cells, form.decimal, ".") if pa.types.is_string(cells.type) else cells
    )


def _found_columns(
    header: list[str], file: str, profile: Profile, limits: Landing
) -> dict[str, str]:
    """The profile's columns, each with the heading as it stands in the log.

    Raises RefusedFile where a required one is missing or one of them stands there twice.
    """
    check_width(header, file, limits.max_columns)
    bare = [name.strip() for name in header]
    if len(bare) == 1 and bare[0] not in profile.columns:
        said = f"the heading is one column; the profile splits it at {profile.text.delimiter!r}"
        mend = "mend text.delimiter of the profile, or the log"
        raise RefusedFile([make_reason("wrong_delimiter", file, said, mend)])
    reasons: list[Reason] = []
    found: dict[str, str] = {}
    for column, purpose in profile.columns.items():
        count = bare.count(column)
        if count == 1:
            found[column] = header[bare.index(column)]
        elif count > 1:
            said = f"the column ({purpose}) appears {count} times"
            reasons.append(make_reason("column_twice", file, said, "keep one", column=column))
        elif column in _required(profile):
            reasons.append(_missing(column, purpose, bare, file))
    if reasons:
        raise RefusedFile(reasons)
    return found


def _required(profile: Profile) -> set[str | None]:
    needed = {c.column for name, c in profile.channels.items() if CHANNEL_BY_NAME[name].is_required}
    return {
        *needed,
        profile.time.column,
        profile.time.date_column,
        profile.altitude.setting_column,
        profile.heading.latitude_column,
        profile.heading.longitude_column,
    }


def _missing(column: str, purpose: str, header: list[str], file: str) -> Reason:
    hint = nearest(column, [shown(name) for name in header if name])
    said = (
        f"the column that the profile reads as {purpose} is missing{hint if 'mean' in hint else ''}"
    )
    return make_reason("missing_column", file, said, "mend the profile or the log", column=column)


def _absent(found: Mapping[str, object], profile: Profile) -> tuple[str, ...]:
    return tuple(column for column in profile.columns if column not in found)


def _ignored(header: list[str], profile: Profile) -> tuple[str, ...]:
    return tuple(n.strip() for n in header if n.strip() and n.strip() not in profile.columns)
