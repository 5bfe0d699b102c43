"""What a relation should give, written as a table in text; and stored tables from a few of their columns."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any, Final

import pyarrow as pa
import pytest

from pipeline.schema.tables import TABLES
from tests.tables import build_over, table

USUAL: Final[Mapping[str, Mapping[str, Any]]] = {
    "samples": {"session_id": "S1", "revision": 1},
    "sessions": {
        "session_id": "S1",
        "revision": 1,
        "batch_id": "b1",
        "student_id": "TH01",
        "session_date": date(2026, 3, 14),
        "started_at": datetime(2026, 3, 14, 9, tzinfo=UTC),
        "device_id": "SIM-1",
        "recorder": "canonical",
        "sample_count": 0,
        "median_step_s": 1.0,
        "gap_limit_s": 2.5,
        "log_name": "logs/S1.csv",
        "log_sha256": "0",
        "row_sha256": "0",
        "channels": [],
        "sparse_channels": [],
        "gates": [],
        "time_column": "time_s",
    },
    "tasks": {"session_id": "S1", "revision": 1, "flown_by": "student"},
    "roster": {"row_sha256": "0", "batch_id": "b1"},
    "devices": {
        "device_class": "simulator",
        "control": "centring",
        "row_sha256": "0",
        "batch_id": "b1",
    },
    "reviews": {"made_at": datetime(2026, 3, 15, tzinfo=UTC)},
}
"""What a stored row holds where the text does not say."""


def stored(kind: str, text: str = "") -> pa.Table:
    """A stored table: the text's columns, the usual values for the rest; lists are written `a, b`.

    Without a text it has no rows.
    """
    schema = TABLES[kind]
    if not text:
        return schema.empty_table()
    lists = [field.name for field in schema if pa.types.is_list(field.type)]
    said = text
    for name in lists:
        said = said.replace(f"{name} ", f"{name}:text ", 1) if f"{name} " in said else said
    rows = table(said).to_pylist()
    for i, row in enumerate(rows):
        for name in lists:
            if isinstance(row.get(name), str):
                row[name] = [part.strip() for part in row[name].split(",")]
        usual = {"review_id": f"r{i}", **USUAL[kind]}
        rows[i] = {f.name: row.get(f.name, usual.get(f.name)) for f in schema}
        for field in schema:
            if pa.types.is_integer(field.type) and rows[i][field.name] is not None:
                rows[i][field.name] = int(rows[i][field.name])
    return pa.Table.from_pylist(rows, schema=schema)


def points(text: str) -> pa.Table:
    """A text table whose times in milliseconds are whole numbers, as those of the store are."""
    found = table(text)
    fields = [pa.field(f.name, pa.int32()) if f.name.endswith("_ms") else f for f in found.schema]
    return found.cast(pa.schema(fields))


def assert_relation(name: str, expected: str, **inputs: str | pa.Table) -> None:
    """The relation has exactly the rows of the text (in any order), in the columns that it names.

    Numbers agree to 1e-6 of their size (of 1, when smaller).
    """
    wanted = table(expected)
    columns = ", ".join(f'"{c}"' for c in wanted.column_names)
    found = build_over([name], **inputs).sql(f"SELECT {columns} FROM {name}").to_arrow_table()
    rows = _in_order(found.to_pylist())
    nearly = [{k: _nearly(v) for k, v in row.items()} for row in _in_order(wanted.to_pylist())]
    assert rows == nearly, "\n".join(["found:", *map(str, rows), "wanted:", *map(str, nearly)])


def _in_order(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return sorted(rows, key=lambda row: [_rank(v) for v in row.values()])


def _rank(value: object) -> tuple[bool, object]:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return (value is None, round(float(value), 4) if is_number else str(value))  # type: ignore[arg-type]


def _nearly(value: object) -> object:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return pytest.approx(value, rel=1e-6, abs=1e-6) if is_number else value
