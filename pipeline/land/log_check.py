"""Judging a log's cells: what is no measurement becomes NULL and is counted, or the file is
refused.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pipeline.land.faults import RefusedFile, make_reason, shown
from pipeline.land.gates import Gate, Severity
from pipeline.land.log_cells import LogCells, Numbers, as_numbers, as_switch
from pipeline.land.log_times import LogTimes, read_times
from pipeline.land.row_order import RowOrder, settle_order
from pipeline.reports import Reason
from pipeline.schema.channels import CHANNELS, CLOCK_COLUMN, Channel

MOST_BAD_SHARE: Final = 0.05
"""Of a required channel, and of rows that cannot be read; more refuses the file."""

MOST_DISORDER_SHARE: Final = 0.01
"""Of rows whose time runs backwards or repeats with other values; more refuses the file."""

SPARSE_SHARE: Final = 0.95
"""A channel with a value in fewer rows than this is a slower channel."""

Values = dict[str, NDArray[np.float32]]


@dataclass(frozen=True)
class CleanLog:
    """Samples of a session with strictly increasing `t_ms`; per channel NaN where there is no
    measurement.
    """

    t_ms: NDArray[np.int32]
    values: Values
    time_column: str
    ignored: tuple[str, ...] = ()
    gates: tuple[Gate, ...] = ()

    @property
    def channels(self) -> tuple[str, ...]:
        """The channels that hold any value."""
        return tuple(self.values)

    @property
    def sparse_channels(self) -> tuple[str, ...]:
        """The channels that were recorded less often than the log has rows."""
        least = SPARSE_SHARE * len(self.t_ms)
        return tuple(n for n, v in self.values.items() if np.count_nonzero(~np.isnan(v)) < least)


@dataclass
class _Findings:
    reasons: list[Reason] = field(default_factory=list)
    gates: list[Gate] = field(default_factory=list)


def check_log(
    cells: LogCells, file: str, started_at: datetime, times: LogTimes | None = None
) -> CleanLog:
    """The usable samples of a log. Raises RefusedFile with every reason why it cannot be used.

    `times` are its rows' times where a profile has read them already.
    """
    if cells.row_count == 0 and not cells.cut_rows:
        said = "there is a heading and no row below it"
        raise RefusedFile([make_reason("header_only", file, said, "deliver the log again")])
    findings = _Findings()
    times = read_times(cells, started_at) if times is None else times
    _judge_rows(cells, times, file, findings)
    if cells.row_count == 0:
        raise RefusedFile(findings.reasons)
    values: Values = {}
    for channel in CHANNELS:
        if channel.name in cells.columns:
            values[channel.name] = _judge_channel(channel, cells, times, file, findings)
    timed = np.flatnonzero(~np.isnan(times.ms))
    ms = np.rint(times.ms[timed]).astype(np.int64)
    is_timed = len(timed) == cells.row_count
    order = settle_order(ms, [v if is_timed else v[timed] for v in values.values()])
    _judge_order(cells, timed, ms, order, file, findings)
    if findings.reasons:
        raise RefusedFile(findings.reasons)
    rows = timed[order.kept]
    is_whole = len(rows) == cells.row_count
    kept = {n: v if is_whole else v[rows] for n, v in values.items() if not np.isnan(v).all()}
    t_ms = ms[order.kept].astype(np.int32)
    return CleanLog(t_ms, kept, times.column, cells.ignored, tuple(findings.gates))


def _judge_rows(cells: LogCells, times: LogTimes, file: str, findings: _Findings) -> None:
    """Rows of a wrong length and rows without a usable time are left out, or refuse the file."""
    total = cells.row_count + len(cells.cut_rows)
    if cells.cut_rows:
        first = cells.cut_rows[0]
        said = f"{len(cells.cut_rows)} of {total} rows have more or fewer cells than the heading"
        if len(cells.cut_rows) > MOST_BAD_SHARE * total:
            mend = "deliver the log again, whole"
            findings.reasons.append(make_reason("row_length", file, said, mend, row=first))
        detail = f"{said}, the first in line {first}; they were left out"
        findings.gates.append(
            Gate("rows_cut", "warning", None, len(cells.cut_rows), None, None, detail)
        )
    lost = np.flatnonzero(np.isnan(times.ms))
    if not len(lost):
        return
    said = f"{len(lost)} of {total} rows have no usable time"
    if len(lost) > MOST_BAD_SHARE * total:
        findings.reasons.append(_no_time(cells, times, lost, said, file))
    detail = f"{said}, the first in {_place(cells, lost, file)}; they were left out"
    findings.gates.append(Gate("time_unreadable", "warning", None, len(lost), None, None, detail))


def _no_time(
    cells: LogCells, times: LogTimes, lost: NDArray[np.int64], said: str, file: str
) -> Reason:
    first = int(times.bad[0]) if len(times.bad) else int(lost[0])
    value = cells.value(times.column, first)
    rule, mend = "no_time", "deliver the log again with a time in every row"
    if times.naive:
        rule = "no_offset"
        said = f"{times.naive} of {cells.row_count} times have no offset from UTC"
        mend = "write them with Z or an offset such as +01:00, or name their zone in a profile"
    elif times.column != CLOCK_COLUMN and len(times.bad):
        mend = "time_s counts seconds from the session's start; a clock's time belongs in timestamp"
    row, column = cells.row_of(first), cells.name(times.column)
    return make_reason(rule, file, said, mend, row=row, column=column, value=value)


def _judge_channel(
    channel: Channel, cells: LogCells, times: LogTimes, file: str, findings: _Findings
) -> NDArray[np.float32]:
    """The channel's values with NaN for what is no measurement; counts it, or adds a reason to
    refuse.
    """
    column = cells.columns[channel.name]
    numbers = as_numbers(column, np.float32) if channel.is_number else as_switch(column)
    values, bad = _in_range(channel, numbers)
    recorded = cells.row_count - int(np.count_nonzero(np.isnan(values))) + len(bad)
    if channel.is_required and recorded == len(bad):
        said = "the required channel holds no value" if not len(bad) else "no value can be used"
        mend = "deliver the log again with this channel"
        column_name = cells.name(channel.name)
        findings.reasons.append(make_reason("all_null", file, said, mend, column=column_name))
    elif len(bad):
        _judge_bad_values(channel, cells, times, bad, recorded, file, findings)
    if channel.name == "heading_deg":
        return _wrapped(values)
    return values


def _in_range(channel: Channel, numbers: Numbers) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    values = numbers.values.astype(np.float32, copy=False)
    if channel.low is None or channel.high is None:
        return values, numbers.bad
    # Limits are compared as float32, so that a value equal to a limit is inside it.
    far = np.flatnonzero((values < np.float32(channel.low)) | (values > np.float32(channel.high)))
    if not len(far):
        return values, numbers.bad
    values = values.copy()
    values[far] = np.nan
    # The bad cells are NaN by now, so no row is in both.
    return values, np.sort(np.concatenate((numbers.bad, far)))


def _wrapped(heading: NDArray[np.float32]) -> NDArray[np.float32]:
    """Headings in [0, 360). Rounding to float32 may make 360 of a hair below it; that is north,
    0.
    """
    is_inside = (heading >= 0) & (heading < 360)
    if (is_inside | np.isnan(heading)).all():
        return heading
    wrapped = np.mod(heading.astype(np.float64), 360.0).astype(np.float32)
    return np.where(wrapped >= 360, np.float32(0), wrapped)


def _judge_bad_values(
    channel: Channel,
    cells: LogCells,
    times: LogTimes,
    bad: NDArray[np.int64],
    recorded: int,
    file: str,
    findings: _Findings,
) -> None:
    share = len(bad) / recorded
    wanted = "true nor false"
    if channel.is_number:
        wanted = f"a number from {channel.low:g} to {channel.high:g}"
        if channel.name in cells.names:
            wanted += f" {channel.unit} as {channel.name}"
    verb = "are not" if channel.is_number else "are neither"
    said = f"{len(bad)} of {recorded} values ({100 * share:.1f} %) {verb} {wanted}"
    value, column = cells.value(channel.name, int(bad[0])), cells.name(channel.name)
    if channel.is_required and share > MOST_BAD_SHARE:
        mend = f"the first is {shown(value)!r}; deliver the log again"
        row = cells.row_of(int(bad[0]))
        findings.reasons.append(
            make_reason("bad_values", file, said, mend, row=row, column=column, value=value)
        )
    severity: Severity = "suspect" if share > MOST_BAD_SHARE else "warning"
    detail = f"{said}; the first, {shown(value)!r}, in {_place(cells, bad, file)}; they became NULL"
    start, end = _span(times.ms[bad])
    findings.gates.append(
        Gate("values_nulled", severity, channel.name, len(bad), start, end, detail)
    )


def _judge_order(
    cells: LogCells,
    timed: NDArray[np.int64],
    ms: NDArray[np.int64],
    order: RowOrder,
    file: str,
    findings: _Findings,
) -> None:
    """Rows that time does not allow are left out, or refuse the file."""
    total = cells.row_count + len(cells.cut_rows)
    is_refused = len(order.backwards) + len(order.repeats) > MOST_DISORDER_SHARE * total
    for gate, severity, rows, said in _disorder(order):
        words = f"{len(rows)} of {total} rows {said}"
        if is_refused and severity == "warning":
            row = cells.row_of(int(timed[rows[0]]))
            mend = "deliver the log again in the order of time"
            findings.reasons.append(make_reason(gate, file, words, mend, row=row))
        detail = f"{words}, the first in {_place(cells, timed[rows], file)}; they were left out"
        start, end = _span(ms[rows])
        findings.gates.append(Gate(gate, severity, None, len(rows), start, end, detail))


def _disorder(order: RowOrder) -> Iterator[tuple[str, Severity, NDArray[np.int64], str]]:
    if len(order.duplicates):
        yield "duplicate_rows", "note", order.duplicates, "repeat an earlier row exactly"
    if len(order.backwards):
        yield "time_backwards", "warning", order.backwards, "go back in time"
    if len(order.repeats):
        said = "repeat a time with other values"
        yield "time_repeats", "warning", order.repeats, said


def _place(cells: LogCells, rows: NDArray[np.int64], file: str) -> str:
    unit = "row" if file.endswith(".parquet") else "line"
    return f"{unit} {cells.row_of(int(rows[0]))}"


def _span(ms: NDArray[np.float64] | NDArray[np.int64]) -> tuple[float | None, float | None]:
    known = ms[~np.isnan(ms)]
    if not len(known):
        return None, None
    return float(known.min()) / 1000.0, float(known.max()) / 1000.0
