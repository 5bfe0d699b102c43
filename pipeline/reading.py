"""Open a warehouse for reading: every relation by name, from committed batches and kept measures only."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline import relations
from pipeline.reports import Finding
from pipeline.schema.tables import TABLES
from pipeline.settings import Settings, load_settings
from pipeline.store.absent import are_here, bring
from pipeline.store.readers import note_reader
from pipeline.store.version import refuse_newer
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import read_columns

STORED = tuple(f"stored_{kind}" for kind in TABLES)

_OWN_LIMITS = pa.schema([("name", pa.string()), ("value", pa.float64())])
_OWN_STANDARDS = pa.schema(
    [
        ("standard_id", pa.string()),
        ("channel", pa.string()),
        ("tolerance", pa.float64()),
        ("unit", pa.string()),
    ]
)
_SAMPLES_NOT_FETCHED = """
    CREATE OR REPLACE VIEW stored_samples AS
    SELECT s.*
    FROM (SELECT 1) AS one
    LEFT JOIN no_samples AS s ON TRUE
    WHERE CAST(ERROR('samples were read that had not been fetched') AS BOOLEAN)
"""
_STAGES = pa.schema([("stage", pa.string()), ("standard_id", pa.string())])
_CHANNEL_UNITS = {"altitude_ft": "ft", "heading_deg": "deg", "airspeed_kt": "kt"}


@cache
def limit_units() -> Mapping[str, str]:
    """The unit of every limit that a school may set, by the limit's name."""
    con = relations.connect()
    relations.build(con, ["settings"])
    return dict(con.execute("SELECT name, unit FROM settings").fetchall())


@cache
def standard_names() -> tuple[str, ...]:
    """The ids of the standards that are shipped."""
    con = relations.connect()
    relations.build(con, ["standards"])
    rows = con.execute("SELECT DISTINCT standard_id FROM standards ORDER BY 1").fetchall()
    return tuple(str(row[0]) for row in rows)


def school_settings(warehouse: Warehouse) -> Settings:
    """The school's settings, checked against the limits and standards there are."""
    return load_settings(warehouse.settings_file, limit_units(), standard_names())


def settings_tables(settings: Settings) -> dict[str, pa.Table]:
    """The school's own limits, standards and stages as the relations that SQL reads."""
    limits = [{"name": n, "value": v} for n, v in sorted(settings.limits.items())]
    own = [
        {
            "standard_id": name,
            "channel": column.rsplit("_", 1)[0],
            "tolerance": getattr(standard, column),
            "unit": unit,
        }
        for name, standard in sorted(settings.standards.items())
        for column, unit in _CHANNEL_UNITS.items()
        if getattr(standard, column) is not None
    ]
    stages = [{"stage": s, "standard_id": i} for s, i in sorted(settings.stages.items())]
    return {
        "own_limits": pa.Table.from_pylist(limits, schema=_OWN_LIMITS),
        "own_standards": pa.Table.from_pylist(own, schema=_OWN_STANDARDS),
        "stage_standards": pa.Table.from_pylist(stages, schema=_STAGES),
    }


@dataclass(frozen=True)
class Definitions:
    """How figures are measured: the SQL of what is kept and the settings that it reads, as one digest."""

    digest: str
    kept: tuple[str, ...] = field(repr=False)


def kept_relations() -> tuple[str, ...]:
    """The relations that measuring keeps beside each samples file, in run order."""
    return tuple(r.name for r in relations.relation_files().values() if r.is_kept)


def definitions(settings: Settings) -> Definitions:
    """The digest of all that decides a kept figure; stages and flag settings do not."""
    kept = kept_relations()
    needed = relations.needed_for(kept, STORED)
    measuring = [r for r in needed if r.floor > 0 or r.name == "band_edges"]
    text = "\n".join(r.text for r in measuring)
    con = relations.connect()
    for name, table in settings_tables(settings).items():
        relations.bind_table(con, name, table)
    relations.build(con, ["settings", "band_edges"], settings_tables(settings))
    words = set(re.findall(r"\w+", text))
    values = con.execute("SELECT name, value FROM settings ORDER BY name").fetchall()
    edges = con.execute("SELECT channel, edge FROM band_edges ORDER BY channel, edge").fetchall()
    read = [row for row in values if row[0] in words]
    digest = hashlib.sha256(repr((text, read, edges)).encode()).hexdigest()[:16]
    return Definitions(digest, kept)


@cache
def _empty_store() -> tuple[duckdb.DuckDBPyConnection, set[str]]:
    """A connection over an empty store, and what can be read in it so far."""
    con = relations.connect()
    for kind, schema in TABLES.items():
        relations.bind_files(con, f"stored_{kind}", [], schema)
    return con, set(STORED)


@cache
def kept_schema(name: str) -> pa.Schema:
    """The columns of a kept relation, found by building it over an empty store."""
    con, there = _empty_store()
    there.update(relations.build(con, [name], there))
    return con.sql(f"FROM {name}").to_arrow_table().schema


def measure_path(
    warehouse: Warehouse, digest: str, relation: str, session_date: str, batch_id: str
) -> Path:
    """Where a kept relation of one samples file lies."""
    folder = warehouse.measures / digest / relation / f"session_date={session_date}"
    return folder / f"{batch_id}.parquet"


def kept_files(warehouse: Warehouse, digest: str, relation: str) -> tuple[Path, ...]:
    """The files of a kept relation that belong to committed batches, by date, then batch."""
    committed = set(warehouse.committed_batches())
    found = (warehouse.measures / digest / relation).glob("session_date=*/b*.parquet")
    return tuple(sorted(path for path in found if path.stem in committed))


def whole_units(
    warehouse: Warehouse, digest: str, names: Iterable[str]
) -> tuple[tuple[str, str], ...]:
    """The samples files, as (session date, batch), of which all of these kept relations are there.

    So a reader never sees half of what a run under way has measured.
    """
    found = [
        {_unit_of(path) for path in kept_files(warehouse, digest, name)} for name in sorted(names)
    ]
    return tuple(sorted(set.intersection(*found))) if found else ()


def _unit_of(path: Path) -> tuple[str, str]:
    return path.parent.name.removeprefix("session_date="), path.stem


def bind_store(
    con: duckdb.DuckDBPyConnection, warehouse: Warehouse, *, with_samples: bool = True
) -> set[str]:
    """Bind every stored table to the files of committed batches; gives the names bound.

    Where samples are not wanted, and would have to be fetched first, reading them is an error.
    """
    for kind, schema in TABLES.items():
        files = warehouse.table_files(kind) if kind != "samples" else warehouse.sample_files()
        if kind == "samples" and with_samples:
            bring(files)
        if kind == "samples" and not are_here(files):
            relations.bind_table(con, "no_samples", schema.empty_table())
            con.execute(_SAMPLES_NOT_FETCHED)
        else:
            relations.bind_files(con, f"stored_{kind}", files, schema)
    return set(STORED)


def reads_samples(names: Iterable[str], needed: Iterable[relations.RelationFile]) -> bool:
    """Whether `names`, or what is built for them, are samples or made from samples."""
    return "stored_samples" in {*names, *(i for r in needed for i in r.inputs)}


def bind_settings(con: duckdb.DuckDBPyConnection, settings: Settings) -> set[str]:
    """Bind the school's own limits, standards and stages; gives the names bound."""
    tables = settings_tables(settings)
    for name, table in tables.items():
        relations.bind_table(con, name, table)
    return set(tables)


def open_warehouse(
    warehouse: Warehouse,
    settings: Settings,
    names: Iterable[str],
    *,
    as_of: date | None = None,
    extra: Mapping[str, pa.Table] | None = None,
    threads: int = 1,
) -> duckdb.DuckDBPyConnection:
    """A read-only connection in which `names`, and all they rest on, can be read as relations.

    Kept measures are read, never made: a session that was landed but not yet measured has no
    maneuvers. `as_of` is the date that lists and flags are told for (default: the latest session).
    `extra` tables are bound under their names. Raises RelationFailed when a relation does not build,
    StoreNewer where a newer version wrote to the store.
    """
    con = relations.connect(warehouse.root, threads=threads)
    note_reader(warehouse)
    refuse_newer(warehouse)
    names, seen = tuple(names), warehouse.snapshot()
    tables = {**_as_of_table(as_of), **(extra or {})}
    bound = {*STORED, *bind_settings(con, settings), *kept_relations(), *tables}
    needed = relations.needed_for(names, bound)
    bind_store(con, seen, with_samples=reads_samples(names, needed))
    _bind_kept(con, seen, definitions(settings).digest, _kept_among(names, bound))
    for name, table in tables.items():
        relations.bind_table(con, name, table)
    relations.build(con, names, bound)
    return con


def _kept_among(names: Sequence[str], bound: set[str]) -> set[str]:
    """The kept relations that `names` are or rest on."""
    read = {*names, *(i for r in relations.needed_for(names, bound) for i in r.inputs)}
    return read & set(kept_relations())


def _bind_kept(
    con: duckdb.DuckDBPyConnection, warehouse: Warehouse, digest: str, names: set[str]
) -> None:
    """Bind the kept relations that are read to the same samples files' measures."""
    units = whole_units(warehouse, digest, names)
    for name in sorted(names):
        bind_kept(con, name, [measure_path(warehouse, digest, name, *unit) for unit in units])


def bind_kept(con: duckdb.DuckDBPyConnection, name: str, files: Sequence[Path]) -> None:
    """Give a kept relation the rows of its files; its columns are theirs, where there are any.

    Raises StoreDamaged where a file cannot be read.
    """
    schema = read_columns(files[0]) if files else kept_schema(name)
    relations.bind_files(con, name, files, schema)


def _as_of_table(as_of: date | None) -> dict[str, pa.Table]:
    if as_of is None:
        return {}
    schema = pa.schema([("as_of_date", pa.date32())])
    return {"as_of": pa.Table.from_pylist([{"as_of_date": as_of}], schema=schema)}


def read_rows(con: duckdb.DuckDBPyConnection, query: str) -> Sequence[tuple[object, ...]]:
    """All rows of a query, as tuples."""
    return con.execute(query).fetchall()


def broken_rules(warehouse: Warehouse, settings: Settings) -> list[Finding]:
    """What the data checks find: the rows of `broken_rules`, each with what to do about it."""
    con = open_warehouse(warehouse, settings, ["broken_rules"])
    rows = con.execute("SELECT * FROM broken_rules ORDER BY rule, subject").fetchall()
    return [
        Finding(
            check=str(rule),
            file="",
            sentence=f"{subject}: {sentence}",
            mend="delete measures/ and run levelhold score; if it stays, report it as a fault",
        )
        for rule, subject, sentence in rows
    ]
