"""Reading a Parquet log: the known columns only, and nothing before its size is known."""

from collections.abc import Callable
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline.land.faults import RefusedFile, make_reason, shown_error
from pipeline.land.log_bytes import MEGABYTE
from pipeline.land.log_cells import LogCells, known_types, one_array
from pipeline.land.log_csv import check_log_header
from pipeline.reports import Reason
from pipeline.schema.channels import CLOCK_COLUMN

LONGEST_CELL: Final = 64
"""Bytes of a text cell: no number, time or switch is longer."""

_CELL_BYTES: Final = 8
_TEXT_BYTES: Final = 32


def read_parquet_log(content: bytes, file: str, max_columns: int, max_mb: float) -> LogCells:
    """The cells of a Parquet log. Raises RefusedFile where it is damaged, too large or lacks a
    channel.
    """

    def choose(header: list[str]) -> dict[str, str]:
        check_log_header(header, file, max_columns)
        return {name.strip(): name for name in header if name.strip() in known_types()}

    header, columns, row_count = read_columns(content, file, choose, max_mb)
    faults = [
        _wrong_type(name, cells, file) for name, cells in columns.items() if not _fits(name, cells)
    ]
    if faults:
        raise RefusedFile(faults)
    ignored = tuple(name for name in header if name.strip() not in known_types())
    return LogCells(columns, row_count, ignored)


def read_columns(
    content: bytes, file: str, choose: Callable[[list[str]], dict[str, str]], max_mb: float
) -> tuple[list[str], dict[str, pa.Array], int]:
    """The heading of a Parquet file, the columns that `choose` makes of it (name: heading), and how
    many rows it has. Raises RefusedFile where it is damaged or too large.
    """
    if not content:
        raise RefusedFile(
            [make_reason("empty_file", file, "the file is empty", "deliver it again")]
        )
    try:
        parquet = pq.ParquetFile(pa.BufferReader(content))
        header = list(parquet.schema_arrow.names)
        wanted = choose(header)
        texts = [h for h in wanted.values() if _is_text(parquet.schema_arrow.field(h).type)]
        _check_size(parquet, len(wanted), len(texts), file, max_mb)
        # A text that repeats is kept once: written out for every row, a few bytes could fill memory.
        parquet = pq.ParquetFile(pa.BufferReader(content), read_dictionary=texts)
        table = parquet.read(columns=list(wanted.values()), use_threads=False).unify_dictionaries()
        table.validate(full=True)
        columns = {name: one_array(table.column(h)) for name, h in wanted.items()}
        plain = {name: _plain(cells, name, file) for name, cells in columns.items()}
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        said = f"not a readable Parquet file, cut off or damaged ({shown_error(error)})"
        raise RefusedFile([make_reason("damaged_parquet", file, said, "copy it again")]) from None
    return header, plain, table.num_rows


def _check_size(
    parquet: pq.ParquetFile, columns: int, texts: int, file: str, max_mb: float
) -> None:
    """A few bytes of Parquet can stand for billions of rows or for one endless cell, so what they
    unpack to counts.
    """
    rows = parquet.metadata.num_rows
    # Asking for single column chunks instead could end the whole process on a damaged footer.
    groups = range(parquet.metadata.num_row_groups)
    unpacked = sum(parquet.metadata.row_group(n).total_byte_size for n in groups)
    width = columns * _CELL_BYTES + texts * _TEXT_BYTES
    if max(rows * width, unpacked) > max_mb * MEGABYTE:
        said = f"{rows} rows of {unpacked} bytes are more than the limit of {max_mb:g} MB allows"
        mend = "split the session or raise landing.max_log_mb in school.toml"
        raise RefusedFile([make_reason("too_large", file, said, mend)])


def _is_text(kind: pa.DataType) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind))


def _plain(cells: pa.Array, name: str, file: str) -> pa.Array:
    """The cells decoded; text longer than any number or time is not."""
    if not pa.types.is_dictionary(cells.type):
        return cells.cast(pa.string()) if pa.types.is_string_view(cells.type) else cells
    words = cells.dictionary
    if _is_text(words.type) and (pc.max(pc.binary_length(words)).as_py() or 0) > LONGEST_CELL:
        said = f"the column holds text longer than {LONGEST_CELL} bytes"
        raise RefusedFile([make_reason("wrong_type", file, said, "write numbers", column=name)])
    decoded = cells.dictionary_decode()
    return decoded.cast(pa.string()) if _is_text(decoded.type) else decoded


def _fits(name: str, cells: pa.Array) -> bool:
    kind = cells.type
    if pa.types.is_string(kind) or pa.types.is_null(kind):
        return True
    if name == CLOCK_COLUMN:
        return bool(pa.types.is_timestamp(kind) and kind.tz is not None)
    is_number = pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_decimal(kind)
    return bool(is_number or pa.types.is_boolean(kind))


def _wrong_type(name: str, cells: pa.Array, file: str) -> Reason:
    if name == CLOCK_COLUMN and pa.types.is_timestamp(cells.type):
        said = "the times have no offset from UTC"
        return make_reason("no_offset", file, said, "write them with their time zone", column=name)
    said = f"the column holds {cells.type}, not numbers"
    return make_reason("wrong_type", file, said, "write it as numbers", column=name)
