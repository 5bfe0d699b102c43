"""Tables written in text, for tests: the way a relation is fed by hand and read back."""

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any

import duckdb
import polars as pl
import pyarrow as pa

from pipeline.relations import bind_table, build, connect

_TEXT_NAMES = frozenset(
    [
        *("air", "aspect", "basis", "channel", "cohort", "control", "device_class", "exercise"),
        *(
            "fault",
            "fault_words",
            "flown_by",
            "grouping",
            "heavy_wing",
            "used_air",
            "kind",
            "lesson",
            "name",
            "note",
            "reason",
            "stage",
        ),
        *("axis", "group_value", "habit", "severity", "state", "stratum", "trend", "unit"),
    ]
)
_TEXT_ENDINGS = ("_id", "_reason", "_sha256", "_class", ":text")
_DATE_NAMES = frozenset(["left_on", "until", "valid_from"])
_COUNT_NAMES = frozenset(
    [
        "ago",
        "days_since",
        "excursions",
        "excursions_2x",
        "level_count",
        "kendall_s",
        "recent_outside",
    ]
)


def column_type(name: str) -> pa.DataType:
    """The type that a column has by the house's way of naming; `name:text` says that it is text."""
    if name in _TEXT_NAMES or name.endswith(_TEXT_ENDINGS):
        return pa.string()
    if name in _DATE_NAMES or name.endswith("_date"):
        return pa.date32()
    if name.endswith("_at"):
        return pa.timestamp("us", tz="UTC")
    if name.startswith(("is_", "has_")) or name == "research_consent":
        return pa.bool_()
    if name in _COUNT_NAMES or name.endswith(("_count", "_no", "_sessions", "_students")):
        return pa.int64()
    return pa.float64()


def table(text: str) -> pa.Table:
    """The rows of a text table: a line of names, then a line per row, cells parted by `|`; `-` is NULL.

    A column's type follows from its name (`column_type`).
    """
    lines = [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
    names, rows = lines[0], lines[1:]
    for row in rows:
        if len(row) != len(names):
            raise ValueError(f"{len(row)} cells for {len(names)} columns: {row}")
    return pa.table(
        {
            name.removesuffix(":text"): pa.array(
                [_cell(row[i], column_type(name)) for row in rows], column_type(name)
            )
            for i, name in enumerate(names)
        }
    )


def _cell(text: str, kind: pa.DataType) -> str | date | datetime | bool | int | float | None:
    if text == "-":
        return None
    if pa.types.is_string(kind):
        return text
    if pa.types.is_date(kind):
        return date.fromisoformat(text)
    if pa.types.is_timestamp(kind):
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    if pa.types.is_boolean(kind):
        return {"yes": True, "no": False}[text]
    return int(text) if pa.types.is_integer(kind) else float(text)


def build_over(names: Iterable[str], **inputs: str | pa.Table) -> duckdb.DuckDBPyConnection:
    """A connection in which `names` are built from SQL over the inputs given, in text or as tables."""
    con = connect()
    for name, content in inputs.items():
        bind_table(con, name, table(content) if isinstance(content, str) else content)
    build(con, names, bound=inputs)
    return con


def rows_of(name: str, **inputs: str | pa.Table) -> list[dict[str, Any]]:
    """The rows of one relation over the inputs given, in the order it gives them."""
    return frame_of(name, **inputs).to_dicts()


def frame_of(name: str, **inputs: str | pa.Table) -> pl.DataFrame:
    """The relation over the inputs given, as a frame."""
    return build_over([name], **inputs).sql(f"FROM {name}").pl()
