"""Tables as the bytes of CSV and Parquet files: the same table gives the same bytes."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import Final

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq

WITHHELD: Final = "(withheld)"
"""What stands in a CSV cell for a figure that disclosure control withholds; in Parquet it is
null.
"""

_FORMULA_LEAD: Final = r"^[=+\-@\t\r]"


def csv_bytes(table: pa.Table) -> bytes:
    """UTF-8 CSV with a heading: unknown is empty, withheld is WITHHELD, a float has its shortest
    exact form. A text that a spreadsheet would run as a formula is led by an apostrophe.
    """
    frame = pl.DataFrame(table)
    texts = pl.col(pl.String, pl.Categorical, pl.Enum).cast(pl.String)
    frame = frame.with_columns(
        pl.when(texts.str.contains(_FORMULA_LEAD)).then("'" + texts).otherwise(texts).name.keep()
    )
    flags = withheld_flags(frame.columns)
    frame = frame.with_columns(_marked(name, flag) for name, flag in flags.items())
    return frame.write_csv(line_terminator="\n").encode()


def withheld_flags(columns: Sequence[str]) -> dict[str, str]:
    """The columns that can be withheld, each with the column that says so: is_withheld for all
    after it, is_altitude_withheld for those of altitude.
    """
    if "is_withheld" in columns:
        return dict.fromkeys(columns[columns.index("is_withheld") + 1 :], "is_withheld")
    of = {c[len("is_") : -len("withheld")]: c for c in columns if c.endswith("_withheld")}
    return {c: flag for c in columns for aspect, flag in of.items() if c.startswith(aspect)}


def _marked(name: str, flag: str) -> pl.Expr:
    is_hidden = pl.col(flag) & pl.col(name).is_null()
    return (
        pl.when(is_hidden)
        .then(pl.lit(WITHHELD))
        .otherwise(pl.col(name).cast(pl.String))
        .alias(name)
    )


def parquet_bytes(table: pa.Table, units: dict[str, str], about: dict[str, str]) -> bytes:
    """Parquet with the units of its columns, and what is said about it, under the key
    `levelhold`.
    """
    told = json.dumps({**about, "units": units}, sort_keys=True, ensure_ascii=False)
    buffer = io.BytesIO()
    pq.write_table(table.replace_schema_metadata({"levelhold": told}), buffer, compression="zstd")
    return buffer.getvalue()
