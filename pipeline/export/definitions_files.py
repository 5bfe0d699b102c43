"""How each figure was made, in files: the SQL of every relation behind an export, its settings, its
fingerprints.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
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
    bound = {"own_limits", "own_standards", "stage_standards"}
    relations.build(con, ["settings", "standards"], bound)
    return files | {
        "definitions/columns.csv": csv_bytes(pa.Table.from_pylist(columns)),
        "definitions/fingerprints.csv": csv_bytes(pa.Table.from_pylist(prints)),
        "definitions/settings.csv": csv_bytes(_ordered(con, "settings")),
        "definitions/standards.csv": csv_bytes(_ordered(con, "standards")),
        "definitions/stages.csv": csv_bytes(_ordered(con, "stage_standards")),
    }


def definitions_digest(files: Mapping[str, bytes]) -> str:
    """One digest of everything under definitions/: which texts, limits, standards and stages made
    an export.
    """
    told = sorted((path, content) for path, content in files.items() if "definitions/" in path)
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def _ordered(con: duckdb.DuckDBPyConnection, name: str) -> pa.Table:
    return con.sql(f"SELECT * FROM {name} ORDER BY ALL").to_arrow_table()
