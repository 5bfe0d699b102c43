"""What every column of every relation means: the field dictionary joined to the relations as they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

import duckdb

from pipeline import relations
from pipeline.reading import STORED
from pipeline.schema.dictionary import entry_for
from pipeline.schema.tables import TABLES

UNEXPLAINED = "not in the dictionary"


@dataclass(frozen=True)
class ColumnDefinition:
    """One column of one relation: its type, unit, meaning, how it is made and where that comes from."""

    relation: str
    column: str
    type: str
    unit: str
    meaning: str
    formula: str
    source: str


def over_nothing() -> duckdb.DuckDBPyConnection:
    """A connection in which every relation stands over an empty store: no rows, all columns."""
    con = relations.connect()
    for kind, schema in TABLES.items():
        relations.bind_files(con, f"stored_{kind}", [], schema)
    relations.build(con, [n for n in relations.relation_files() if n not in STORED], STORED)
    return con


@cache
def column_definitions() -> tuple[ColumnDefinition, ...]:
    """Every column there is, by relation in run order; a test holds that none is unexplained."""
    con = over_nothing()
    settings = _settings(con)
    return tuple(
        definition
        for relation in relations.relation_files()
        for definition in _columns(con, relation, settings)
    )


def _settings(con: duckdb.DuckDBPyConnection) -> Mapping[str, tuple[str, str]]:
    rows = con.execute("SELECT name, unit, reason FROM settings").fetchall()
    return {str(name): (str(unit), str(reason)) for name, unit, reason in rows}


def _columns(
    con: duckdb.DuckDBPyConnection, relation: str, settings: Mapping[str, tuple[str, str]]
) -> Iterator[ColumnDefinition]:
    source = relations.relation_files()[relation].source
    for row in con.execute(f"DESCRIBE {relation}").fetchall():
        column, kind = str(row[0]), str(row[1])
        if relation == "limits" and column in settings:
            unit, reason = settings[column]
            yield ColumnDefinition(relation, column, kind, unit, reason, "a setting", source)
            continue
        entry = entry_for(relation, column)
        if entry is None:
            yield ColumnDefinition(relation, column, kind, "", UNEXPLAINED, "", source)
        else:
            yield ColumnDefinition(
                relation, column, kind, entry.unit, entry.meaning, entry.formula, source
            )
