"""How each figure was made, in files: the SQL of every relation behind an export, its settings, its
fingerprints.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import asdict

import duckdb
import pyarrow as pa

from pipeline import relations
from pipeline.codebook import column_definitions
from pipeline.export.data_files import csv_bytes


def definition_files(con: duckdb.DuckDBPyConnection, tables: Iterable[str]) -> dict[str, bytes]:
    """The files under definitions/ for the relations that `tables` rest on, by path."""
    used = relations.needed_for(tables)
    names = {relation.name for relation in used}
    files = {f"definitions/sql/{r.floor_name}/{r.name}.sql": r.text.encode() for r in used}
    columns = [asdict(c) for c in column_definitions() if c.relation in names]
    prints = [
        {"relation": r.name, "sha256": hashlib.sha256(r.text.encode()).hexdigest()} for r in used
    ]
    relations.build(con, ["settings", "standards"], {"own_limits", "own_standards"})
    return files | {
        "definitions/columns.csv": csv_bytes(pa.Table.from_pylist(columns)),
        "definitions/fingerprints.csv": csv_bytes(pa.Table.from_pylist(prints)),
        "definitions/settings.csv": csv_bytes(_ordered(con, "settings")),
        "definitions/standards.csv": csv_bytes(_ordered(con, "standards")),
    }


def _ordered(con: duckdb.DuckDBPyConnection, name: str) -> pa.Table:
    return con.sql(f"SELECT * FROM {name} ORDER BY ALL").to_arrow_table()
