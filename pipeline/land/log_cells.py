"""The cells of one log as read, before anything is judged."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from pipeline.schema.channels import CHANNELS, CLOCK_COLUMN, ELAPSED_COLUMN

Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True)
class LogCells:
    """The known columns of a log, one Arrow array each, typed where every cell could be read, else
    text.

    A null is a blank cell. `row_of` turns an index of a row into its number in the file (its line,
    or in Parquet its row), `cut_rows` are numbers of rows that had too few or too many cells and
    were left out. Where a profile converted a column, `delivered` holds its cells as they stood in
    the file and `names` the recorder's own name for it.
    """

    columns: dict[str, pa.Array]
    row_count: int
    ignored: tuple[str, ...] = ()
    cut_rows: tuple[int, ...] = ()
    row_of: Callable[[int], int] = field(default=lambda index: index + 1)
    delivered: Mapping[str, pa.Array] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)

    def value(self, column: str, index: int) -> object:
        """The cell as delivered, None where the file has no such column."""
        cells = self.delivered.get(column, self.columns.get(column))
        return None if cells is None else cells[index].as_py()

    def name(self, column: str) -> str:
        """The column by the name that it has in the file."""
        return self.names.get(column, column)


def known_types() -> dict[str, pa.DataType]:
    """The type of every column that a log may hold."""
    times = {ELAPSED_COLUMN: pa.float64(), CLOCK_COLUMN: pa.timestamp("ns", tz="UTC")}
    return times | {channel.name: channel.arrow_type for channel in CHANNELS}


def one_array(column: pa.ChunkedArray) -> pa.Array:
    """A column as one array, copied only where it came in several pieces."""
    whole = column.combine_chunks()
    return whole.chunk(0) if isinstance(whole, pa.ChunkedArray) else whole


@dataclass(frozen=True)
class Numbers:
    """One column as numbers: NaN where the cell is blank or bad, `bad` the indexes of the bad
    ones.
    """

    values: Floats
    bad: NDArray[np.int64]


def as_numbers(cells: pa.Array, dtype: type[np.float32] | type[np.float64]) -> Numbers:
    """Cells as numbers. Text that is no number, NaN and infinity are bad; a blank cell is not."""
    if pa.types.is_string(cells.type) or pa.types.is_large_string(cells.type):
        return _from_text(cells, dtype)
    target = pa.float32() if dtype is np.float32 else pa.float64()
    if pa.types.is_boolean(cells.type):
        cells = pc.cast(cells, pa.int8())
    if cells.type != target:
        cells = pc.cast(cells, target, safe=False)
    values: Floats = cells.to_numpy(zero_copy_only=False)
    return _without_infinities(values, cells.null_count, lambda: cells.is_null().to_numpy(False))


def as_switch(cells: pa.Array) -> Numbers:
    """Cells of a true/false channel as 1, 0 or NaN."""
    if pa.types.is_boolean(cells.type):
        return as_numbers(cells, np.float32)
    text = _stripped(pl.Series(cells).cast(pl.String)).str.to_lowercase()
    words = {"true": 1.0, "1": 1.0, "1.0": 1.0, "false": 0.0, "0": 0.0, "0.0": 0.0}
    values = text.replace_strict(words, default=None, return_dtype=pl.Float32)
    return _split_bad(text, values, np.float32)


def _from_text(cells: pa.Array, dtype: type[np.float32] | type[np.float64]) -> Numbers:
    text = _stripped(pl.Series(cells))
    kind = pl.Float32 if dtype is np.float32 else pl.Float64
    return _split_bad(text, text.cast(kind, strict=False), dtype)


def _stripped(text: pl.Series) -> pl.Series:
    bare = text.str.strip_chars()
    return bare.set(bare == "", None)


def _split_bad(
    text: pl.Series, values: pl.Series, dtype: type[np.float32] | type[np.float64]
) -> Numbers:
    numbers: Floats = values.fill_null(float("nan")).to_numpy().astype(dtype)
    blank = text.is_null().to_numpy()
    return _without_infinities(numbers, int(blank.sum()), lambda: blank)


def _without_infinities(
    values: Floats, blank_count: int, is_blank: Callable[[], NDArray[np.bool_]]
) -> Numbers:
    """Whole-array test first: a clean column costs one pass."""
    finite = np.isfinite(values)
    if int(finite.sum()) + blank_count == len(values):
        return Numbers(values, np.empty(0, np.int64))
    bad = np.flatnonzero(~finite & ~is_blank())
    clean = values.copy()
    clean[~finite] = np.nan
    return Numbers(clean, bad)
