"""Measure one samples file at a time: what is new or stale, and nothing else.

The work unit is one immutable samples file. What a unit gives is a pure function of that file, its
tasks, the neutrals bound to its sessions and the definitions; all are in the fingerprint that is
written into each output's metadata.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from time import perf_counter

import duckdb
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline import relations
from pipeline.errors import StoreDamaged
from pipeline.reading import (
    bind_settings,
    definitions,
    kept_relations,
    kept_schema,
    measure_path,
    open_warehouse,
)
from pipeline.reports import Outcome, UnitReport, WorkReport
from pipeline.schema.tables import SAMPLES, TABLES
from pipeline.settings import Settings
from pipeline.spread import spread
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import read_metadata, write_parquet

NEUTRALS = pa.schema(
    [
        ("device_id", pa.string()),
        ("session_date", pa.date32()),
        ("pitch_neutral", pa.float64()),
    ]
)

_OUT_OF_ORDER = """
    WITH neighbours AS (
        SELECT
            session_id,
            t_ms,
            LAG(session_id) OVER () AS previous_id,
            LAG(t_ms) OVER () AS previous_ms
        FROM stored_samples
    )
    SELECT
        COUNT(*) FILTER (WHERE session_id = previous_id AND previous_ms >= t_ms),
        COUNT(*) FILTER (WHERE previous_id IS DISTINCT FROM session_id) - COUNT(DISTINCT session_id)
    FROM neighbours
"""


@dataclass(frozen=True)
class Unit:
    """One samples file to measure, and which of its relations are wanted."""

    root: Path
    samples_file: Path
    digest: str
    settings: Settings
    relations: tuple[str, ...]
    neutrals: pa.Table

    @property
    def batch_id(self) -> str:
        """The batch that brought the file."""
        return self.samples_file.stem

    @property
    def session_date(self) -> date:
        """The UTC date of every session in the file."""
        return date.fromisoformat(self.samples_file.parent.name.removeprefix("session_date="))


def rests_on_neutrals(name: str) -> bool:
    """Whether a kept relation needs the devices' neutrals (its own floor is 5)."""
    return relations.relation_files()[name].floor >= 5


def measure_warehouse(
    warehouse: Warehouse,
    settings: Settings,
    *,
    workers: int = 1,
    executor: Executor | None = None,
    known: Mapping[str, pa.Table] | None = None,
) -> WorkReport:
    """Measure every samples file that has no measures, or stale ones; gives one report per file.

    First what depends on the file alone, then, with the neutrals that those figures give, what
    depends on them too. Measures of other definitions are removed at the end.
    """
    digest = definitions(settings).digest
    plain = tuple(n for n in kept_relations() if not rests_on_neutrals(n))
    resting = tuple(n for n in kept_relations() if rests_on_neutrals(n))
    no_neutrals = NEUTRALS.empty_table()
    first = [
        Unit(warehouse.root, path, digest, settings, plain, no_neutrals)
        for path in warehouse.sample_files()
    ]
    reports = list(spread(measure_unit, first, workers=workers, executor=executor))
    second = list(_units_with_neutrals(warehouse, settings, digest, resting, known))
    reports += spread(measure_unit, second, workers=workers, executor=executor)
    _remove_other_definitions(warehouse, digest)
    return WorkReport(tuple(reports))


def _units_with_neutrals(
    warehouse: Warehouse,
    settings: Settings,
    digest: str,
    names: tuple[str, ...],
    known: Mapping[str, pa.Table] | None,
) -> Iterator[Unit]:
    con = open_warehouse(warehouse, settings, ["device_neutrals"], extra=known)
    query = """
        SELECT device_id, session_date, pitch_neutral
        FROM device_neutrals
        ORDER BY device_id, session_date
    """
    neutrals = con.sql(query).to_arrow_table().cast(NEUTRALS)
    for path in warehouse.sample_files():
        day = Unit(warehouse.root, path, digest, settings, names, neutrals).session_date
        rows = neutrals.filter(pc.equal(neutrals["session_date"], pa.scalar(day)))
        yield Unit(warehouse.root, path, digest, settings, names, rows)


def measure_unit(unit: Unit) -> UnitReport:
    """Measure one samples file and write its kept relations; `current` when they are there already.

    Raises StoreDamaged when the file cannot be read or is not in order, RelationFailed when SQL fails.
    """
    name = f"{unit.session_date.isoformat()}/{unit.batch_id}"
    fingerprint = _fingerprint(unit)
    if _is_current(unit, fingerprint):
        return UnitReport(name, Outcome.CURRENT)
    began = perf_counter()
    tables = _measured(unit)
    for relation, table in tables.items():
        path = _output(unit, relation)
        write_parquet(table, path, {"kind": relation, "fingerprint": fingerprint})
    return UnitReport(name, Outcome.DONE, took_s=perf_counter() - began)


def _measured(unit: Unit) -> dict[str, pa.Table]:
    con = relations.connect(unit.root)
    bound = _bind_unit(con, unit)
    _refuse_disorder(con, unit)
    bound |= _bind_kept_before(con, unit, bound) or _bind_no_search(con, bound)
    relations.build(con, unit.relations, bound)
    found = {n: con.sql(f"FROM {n}").to_arrow_table().cast(kept_schema(n)) for n in unit.relations}
    con.close()
    return found


def _bind_unit(con: duckdb.DuckDBPyConnection, unit: Unit) -> set[str]:
    warehouse = Warehouse(unit.root)
    relations.bind_files(con, "stored_samples", [unit.samples_file], SAMPLES)
    sessions = pq.read_table(warehouse.table_path("sessions", unit.batch_id))
    of_the_day = pc.equal(sessions["session_date"], pa.scalar(unit.session_date))
    relations.bind_table(con, "stored_sessions", sessions.filter(of_the_day))
    tasks = warehouse.table_path("tasks", unit.batch_id)
    found = [tasks] if tasks.exists() else []
    relations.bind_files(con, "stored_tasks", found, TABLES["tasks"])
    devices = warehouse.table_files("devices")
    relations.bind_files(con, "stored_devices", devices, TABLES["devices"])
    relations.bind_table(con, "bound_neutrals", unit.neutrals)
    return bind_settings(con, unit.settings) | {
        "stored_samples",
        "stored_sessions",
        "stored_tasks",
        "stored_devices",
        "bound_neutrals",
    }


def _bind_kept_before(con: duckdb.DuckDBPyConnection, unit: Unit, bound: set[str]) -> set[str]:
    """What the first pass kept of this file and the second one reads, bound so that it is not made again."""
    needed = {r.name for r in relations.needed_for(unit.relations, bound)}
    before = [n for n in kept_relations() if n in needed and n not in unit.relations]
    for name in before:
        relations.bind_files(con, name, [_output(unit, name)], kept_schema(name))
    return set(before)


def _bind_no_search(con: duckdb.DuckDBPyConnection, bound: set[str]) -> set[str]:
    """Where tasks leave no session open, no maneuver is searched for: bind an empty find."""
    relations.build(con, ["untasked_sessions"], bound)
    if con.execute("SELECT COUNT(*) FROM untasked_sessions").fetchall() != [(0,)]:
        return set()
    name = "inferred_maneuvers"
    relations.bind_table(con, name, kept_schema(name).empty_table())
    return {name}


def _refuse_disorder(con: duckdb.DuckDBPyConnection, unit: Unit) -> None:
    """Neighbours are read in stored order: refuse a file whose rows are not by session and time."""
    try:
        [(backward, torn)] = con.execute(_OUT_OF_ORDER).fetchall()
    except duckdb.Error as error:
        reason = str(error).splitlines()[0]
        raise StoreDamaged(f"{unit.samples_file.name}: cannot be read ({reason})") from error
    if backward or torn:
        raise StoreDamaged(
            f"{unit.samples_file.name}: samples are not sorted by session and time; "
            "restore the file from a backup, or withdraw its sessions and land them again"
        )


def _output(unit: Unit, relation: str) -> Path:
    day = unit.session_date.isoformat()
    return measure_path(Warehouse(unit.root), unit.digest, relation, day, unit.batch_id)


def _is_current(unit: Unit, fingerprint: str) -> bool:
    for relation in unit.relations:
        path = _output(unit, relation)
        if not path.exists():
            return False
        try:
            written = read_metadata(path).get("fingerprint")
        except StoreDamaged:  # derived: simply measured again
            return False
        if written != fingerprint:
            return False
    return True


def _fingerprint(unit: Unit) -> str:
    """What the unit's figures are a function of; a samples file never changes, so its name stands for it."""
    warehouse = Warehouse(unit.root)
    devices = [path.name for path in warehouse.table_files("devices")]
    parts = [unit.digest, unit.samples_file.name, unit.samples_file.stat().st_size]
    if any(rests_on_neutrals(name) for name in unit.relations):
        parts += [unit.neutrals.to_pylist(), devices]
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _remove_other_definitions(warehouse: Warehouse, digest: str) -> None:
    if warehouse.measures.is_dir():
        for folder in warehouse.measures.iterdir():
            if folder.is_dir() and folder.name != digest:
                shutil.rmtree(folder)
