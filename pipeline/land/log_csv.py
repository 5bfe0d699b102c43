"""Reading a CSV log: each column typed where every cell can be read, else as text so that faults can
be named.
"""

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import pyarrow as pa
import pyarrow.csv as pacsv

from pipeline.land.faults import RefusedFile, make_reason, shown_error
from pipeline.land.log_cells import LogCells, known_types, one_array
from pipeline.land.log_lines import RowLines
from pipeline.land.papers import UTF8_BOM, check_header, check_text
from pipeline.schema.channels import CLOCK_COLUMN, ELAPSED_COLUMN, REQUIRED_CHANNELS

MAX_CUT_ROWS: Final = 100_000
"""More rows of a wrong length than this end the reading: such a file is refused anyway."""

OnCut = Callable[[pacsv.InvalidRow], str]

_QUOTED_ROW: Final = re.compile(r"(?<=columns, got )(\d+):.*")
_HEADING_BYTES: Final = 1 << 20
_USUAL_HEADING_BYTES: Final = 1 << 14
_BLOCK_BYTES: Final = 1 << 18
"""A cell that cannot be read ends its block: the smaller, the less was read in vain."""

_UNREADABLE_CELL: Final = re.compile(r"CSV column #(\d+)")
_MOST_TEXT_COLUMNS: Final = 3
"""With words in more columns than this the whole log is read as text, rather than once more for each."""

_TRUE: Final = ["true", "True", "TRUE", "1"]
_FALSE: Final = ["false", "False", "FALSE", "0"]


@dataclass(frozen=True)
class CsvForm:
    """How a log is written: between columns, before decimals, and words that stand for no value."""

    delimiter: str = ","
    decimal: str = "."
    blanks: tuple[str, ...] = ()


CANONICAL_FORM: Final = CsvForm()


def read_csv_log(content: bytes, file: str, max_columns: int) -> LogCells:
    """The cells of a CSV log. Raises RefusedFile where it is no text or its heading cannot be
    used.
    """
    check_text(content, file)
    header = read_header(content, file)
    check_log_header(header, file, max_columns)
    types = {n: known_types()[n.strip()] for n in header if n.strip() in known_types()}
    table, lines = read_cells(content, file, types)
    wanted = list(types)
    return LogCells(
        columns={name.strip(): one_array(table.column(name)) for name in wanted},
        row_count=table.num_rows,
        ignored=tuple(n.strip() for n in header if n.strip() and n not in wanted),
        cut_rows=lines.of_cut_rows(),
        row_of=lines.of_row,
    )


def read_cells(
    content: bytes, file: str, types: Mapping[str, pa.DataType], form: CsvForm = CANONICAL_FORM
) -> tuple[pa.Table, RowLines]:
    """The columns named in `types`, each so typed where every cell of it can be read, else as text.

    Raises RefusedFile where the text is no table at all.
    """
    cut: list[int] = []
    table = _parse_typed(content, file, types, form)
    if table is None:
        table = _parse_as_text(content, file, types, form, cut)
    return table, RowLines(content, cut, table.num_rows)


def _parse_typed(
    content: bytes, file: str, types: Mapping[str, pa.DataType], form: CsvForm
) -> pa.Table | None:
    """The table, its few columns with cells that cannot be read as text; None where more is amiss."""
    tried, block_bytes = dict(types), _BLOCK_BYTES
    while True:
        try:
            return _parse(content, tried, form, block_bytes=block_bytes)
        except pa.ArrowInvalid as error:
            words = str(error)
        if "straddling" in words and block_bytes < len(content):
            block_bytes = len(content) + 1  # a row may be as long as the file
            continue
        place = _UNREADABLE_CELL.search(words)
        if place is None:
            return None
        name = read_header(content, file, form.delimiter)[int(place.group(1))]
        changed = sum(tried[n] != kind for n, kind in types.items())
        if tried.get(name) in (None, pa.string()) or changed == _MOST_TEXT_COLUMNS:
            return None
        tried[name] = pa.string()


def read_header(content: bytes, file: str, delimiter: str = ",") -> list[str]:
    """The column names as they stand in the first line that is not blank."""
    start = _start_of(content, _USUAL_HEADING_BYTES)
    if not _is_broken(start):
        start = _start_of(content, _HEADING_BYTES)
    if len(content) > _HEADING_BYTES and not _is_broken(start):
        said = f"the first line is longer than {_HEADING_BYTES} bytes"
        raise RefusedFile([make_reason("line_too_long", file, said, "deliver it again", row=1)])
    try:
        rows = csv.reader(io.StringIO(start, newline=""), delimiter=delimiter)
        return next((row for row in rows if row), [])
    except csv.Error as error:
        said = f"the heading is not comma-separated values ({error})"
        reason = make_reason("not_csv", file, said, "deliver it again", row=1)
        raise RefusedFile([reason]) from None


def _start_of(content: bytes, length: int) -> str:
    return content[:length].removeprefix(UTF8_BOM).decode("utf-8", errors="ignore")


def _is_broken(start: str) -> bool:
    """Whether a line ends in the text and another begins, blank ones at the top aside."""
    return "\n" in start.strip("\r\n") or "\r" in start.strip("\r\n")


def check_log_header(header: Sequence[str], file: str, max_columns: int) -> None:
    """Raises RefusedFile where a required channel or the time is missing, a name stands twice, and
    the like.
    """
    check_width(header, file, max_columns)
    names = [name.strip() for name in header]
    time = CLOCK_COLUMN if CLOCK_COLUMN in names else ELAPSED_COLUMN
    check_header(names, file, [time, *REQUIRED_CHANNELS])


def check_width(header: Sequence[str], file: str, max_columns: int) -> None:
    """Raises RefusedFile where a log has more columns than the limit."""
    if len(header) > max_columns:
        said = f"{len(header)} columns are more than the limit of {max_columns}"
        mend = "leave out what is no channel or raise landing.max_columns in school.toml"
        raise RefusedFile([make_reason("too_many_columns", file, said, mend, row=1)])


def _parse(
    content: bytes,
    types: Mapping[str, pa.DataType],
    form: CsvForm,
    on_cut: OnCut | None = None,
    block_bytes: int | None = None,
) -> pa.Table:
    """The columns in `types`. Without `block_bytes` in one piece: a row may be as long as the file."""
    size = block_bytes or len(content) + 1
    return pacsv.read_csv(
        pa.BufferReader(content),
        read_options=pacsv.ReadOptions(use_threads=False, block_size=size),
        parse_options=pacsv.ParseOptions(delimiter=form.delimiter, invalid_row_handler=on_cut),
        convert_options=pacsv.ConvertOptions(
            column_types=types,
            include_columns=list(types),
            null_values=["", *form.blanks],
            strings_can_be_null=True,
            true_values=_TRUE,
            false_values=_FALSE,
            decimal_point=form.decimal,
        ),
    )


def _parse_as_text(
    content: bytes, file: str, types: Mapping[str, pa.DataType], form: CsvForm, cut: list[int]
) -> pa.Table:
    """The slow path. `cut` receives the ordinals (heading 1, blank lines uncounted) of rows left
    out.
    """

    def leave_out(row: pacsv.InvalidRow) -> str:
        cut.append(row.number)
        return "skip" if len(cut) <= MAX_CUT_ROWS else "error"

    texts = dict.fromkeys(types, pa.string())
    try:
        return _parse(content, texts, form, leave_out)
    except pa.ArrowInvalid as error:
        if "Empty CSV" in str(error):
            return pa.table({name: pa.array([], pa.string()) for name in types})
        # The message ends in the row itself, which is nobody's business but the file's.
        words = _QUOTED_ROW.sub(r"\1", shown_error(error))
        said = f"the text cannot be read as separated values ({words})"
        reason = make_reason("not_csv", file, said, "deliver it again")
        raise RefusedFile([reason]) from None
