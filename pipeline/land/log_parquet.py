"""Reading a Parquet log: the known columns only, and nothing before its size is known."""

from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.land.faults import RefusedFile, make_reason
from pipeline.land.log_bytes import MEGABYTE
from pipeline.land.log_cells import LogCells, known_types, one_array
from pipeline.land.log_csv import check_log_header
from pipeline.reports import Reason
from pipeline.schema.channels import CLOCK_COLUMN

_CELL_BYTES: Final = 8


def read_parquet_log(content: bytes, file: str, max_columns: int, max_mb: float) -> LogCells:
    """The cells of a Parquet log. Raises RefusedFile where it is damaged, too large or lacks a
    channel.
    """
    if not content:
        raise RefusedFile(
            [make_reason("empty_file", file, "the file is empty", "deliver it again")]
        )
    try:
        parquet = pq.ParquetFile(pa.BufferReader(content))
        header = parquet.schema_arrow.names
        check_log_header(header, file, max_columns)
        wanted = [name for name in header if name.strip() in known_types()]
        _check_size(parquet, len(wanted), file, max_mb)
        table = parquet.read(columns=wanted, use_threads=False)
    except (pa.ArrowException, OSError) as error:
        said = (
            f"not a readable Parquet file, cut off or damaged ({str(error).splitlines()[0][:80]})"
        )
        raise RefusedFile([make_reason("damaged_parquet", file, said, "copy it again")]) from None
    columns = {name.strip(): _plain(one_array(table.column(name))) for name in wanted}
    faults = [
        _wrong_type(name, cells, file) for name, cells in columns.items() if not _fits(name, cells)
    ]
    if faults:
        raise RefusedFile(faults)
    ignored = tuple(name for name in header if name not in wanted)
    return LogCells(columns, table.num_rows, ignored)


def _check_size(parquet: pq.ParquetFile, width: int, file: str, max_mb: float) -> None:
    """A few bytes of Parquet can stand for billions of rows, so the rows count, not the bytes."""
    if parquet.metadata.num_rows * width * _CELL_BYTES > max_mb * MEGABYTE:
        said = f"{parquet.metadata.num_rows} rows are more than the limit of {max_mb:g} MB allows"
        mend = "split the session or raise landing.max_log_mb in school.toml"
        raise RefusedFile([make_reason("too_large", file, said, mend)])


def _plain(cells: pa.Array) -> pa.Array:
    if pa.types.is_dictionary(cells.type):
        return cells.dictionary_decode()
    if pa.types.is_string_view(cells.type) or pa.types.is_large_string(cells.type):
        return cells.cast(pa.string())
    return cells


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
