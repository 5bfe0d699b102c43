"""Measure a few samples files of one batch in one go, and write each file's relations beside it.

Building the relations costs the same for a small file as for a large one, so small files of a batch
share it. Every figure depends on its own session alone: the files' parts are those of each measured
by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from time import perf_counter

import duckdb
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline import relations
from pipeline.errors import StoreDamaged
from pipeline.measure.units import Unit
from pipeline.reading import bind_kept, bind_settings, kept_relations, kept_schema
from pipeline.reports import Outcome, UnitReport
from pipeline.schema.tables import SAMPLES, TABLES
from pipeline.store import Warehouse, write_parquet

ROWS_AT_ONCE = 800_000
"""Samples that one go may hold: enough to share the fixed cost, little enough to bound the memory."""

WITHOUT_SAMPLES = ("limits", "band_edges")
"""Relations of the settings alone: they are made once for all goes."""

KEPT_DECIMALS = 9
"""Figures are kept rounded to this, so that they do not depend on which files were measured in one go:
the order in which an engine adds up floats shows in their last bits.
"""

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

Group = tuple[Unit, ...]


def grouped(units: Iterable[Unit]) -> Iterator[Group]:
    """The units in goes of at most ROWS_AT_ONCE samples, each within one batch (no session twice)."""
    for _, of_batch in groupby(sorted(units, key=_batch_and_day), key=lambda unit: unit.batch_id):
        group: list[Unit] = []
        rows = 0
        for unit in of_batch:
            more = unit.row_count
            if group and rows + more > ROWS_AT_ONCE:
                yield tuple(group)
                group, rows = [], 0
            group.append(unit)
            rows += more
        yield tuple(group)


def _batch_and_day(unit: Unit) -> tuple[str, str]:
    return unit.batch_id, unit.session_date.isoformat()


def measure_group(group: Group, rows_at_once: int = ROWS_AT_ONCE) -> tuple[UnitReport, ...]:
    """Measure the files of a group and write their kept relations, one report per file.

    A file of more than `rows_at_once` samples is measured a few whole sessions at a time.
    Raises StoreDamaged when a file cannot be read or is not in order, RelationFailed when SQL fails.
    """
    began = perf_counter()
    con = relations.connect(group[0].root)
    bound = _bind_group(con, group)
    _refuse_disorder(con, group)
    relations.build(con, WITHOUT_SAMPLES, bound)
    bound |= set(WITHOUT_SAMPLES)
    before = _bind_kept_before(con, group, bound)
    found: dict[str, list[pa.Table]] = {name: [] for name in group[0].relations}
    for _ in _goes(con, rows_at_once):
        given = bound | (before or _bind_no_search(con, bound))
        relations.build_sparing(con, (*group[0].relations, "maneuver_windows"), given)
        for name, tables in found.items():
            tables.append(_rounded(con.sql(f"FROM {name}").to_arrow_table()))
    days = _days_of_keys(con, group)
    for name, tables in found.items():
        whole = pa.concat_tables(tables).combine_chunks()
        for unit, part in zip(group, _parts(whole, group, days), strict=True):
            metadata = {"kind": name, "fingerprint": unit.fingerprint()}
            write_parquet(part, unit.output(name), metadata)
    con.close()
    took_s = (perf_counter() - began) / len(group)
    return tuple(UnitReport(unit.name, Outcome.DONE, took_s=took_s) for unit in group)


def _goes(con: duckdb.DuckDBPyConnection, rows_at_once: int) -> Iterator[None]:
    """Bind the samples and sessions of a few whole sessions after another, until all had their turn.

    Files that fit in one go are left bound as they are.
    """
    sessions = con.sql("FROM stored_sessions ORDER BY session_id").to_arrow_table()
    stretches = _stretches(sessions["sample_count"].to_pylist(), rows_at_once)
    if len(stretches) == 1:
        yield
        return
    con.execute("ALTER VIEW stored_samples RENAME TO samples_of_all_goes")
    for first, count in stretches:
        few = sessions.slice(first, count)
        ids = few["session_id"]
        con.execute(
            "CREATE OR REPLACE VIEW stored_samples AS FROM samples_of_all_goes "
            f"WHERE session_id BETWEEN {_quoted(ids[0].as_py())} AND {_quoted(ids[-1].as_py())}"
        )
        relations.bind_table(con, "stored_sessions", few)
        yield
    relations.bind_table(con, "stored_sessions", sessions)


def _stretches(counts: list[int], most: int) -> list[tuple[int, int]]:
    """Neighbours in stretches (first, how many) that add up to at most `most`, a larger one alone."""
    found: list[tuple[int, int]] = []
    first, total = 0, 0
    for place, count in enumerate(counts):
        if place > first and total + count > most:
            found.append((first, place - first))
            first, total = place, 0
        total += count
    return [*found, (first, len(counts) - first)]


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _bind_group(con: duckdb.DuckDBPyConnection, group: Group) -> set[str]:
    first = group[0]
    warehouse = Warehouse(first.root)
    relations.bind_files(con, "stored_samples", [unit.samples_file for unit in group], SAMPLES)
    sessions = pq.read_table(warehouse.table_path("sessions", first.batch_id))
    days = pa.array([unit.session_date for unit in group], pa.date32())
    of_the_days = pc.is_in(sessions["session_date"], value_set=days)
    relations.bind_table(con, "stored_sessions", sessions.filter(of_the_days))
    tasks = warehouse.table_path("tasks", first.batch_id)
    relations.bind_files(con, "stored_tasks", [tasks] if tasks.exists() else [], TABLES["tasks"])
    devices = warehouse.table_files("devices")
    relations.bind_files(con, "stored_devices", devices, TABLES["devices"])
    neutrals = pa.concat_tables([unit.neutrals for unit in group])
    relations.bind_table(con, "bound_neutrals", neutrals)
    return bind_settings(con, first.settings) | {
        "stored_samples",
        "stored_sessions",
        "stored_tasks",
        "stored_devices",
        "bound_neutrals",
    }


def _bind_kept_before(con: duckdb.DuckDBPyConnection, group: Group, bound: set[str]) -> set[str]:
    """What the first pass kept and the second one reads, bound so that it is not made again."""
    before = kept_before(group[0].relations, bound)
    for name in before:
        bind_kept(con, name, [u.output(name) for u in group])
    return set(before)


def kept_before(wanted: tuple[str, ...], bound: set[str]) -> tuple[str, ...]:
    """The kept relations that `wanted` rest on and that are not among them."""
    needed = {r.name for r in relations.needed_for(wanted, bound)}
    return tuple(n for n in kept_relations() if n in needed and n not in wanted)


def _bind_no_search(con: duckdb.DuckDBPyConnection, bound: set[str]) -> set[str]:
    """Where tasks leave no session open, no maneuver is searched for: bind an empty find."""
    relations.build(con, ["untasked_sessions"], bound)
    if con.execute("SELECT COUNT(*) FROM untasked_sessions").fetchall() != [(0,)]:
        return set()
    name = "inferred_maneuvers"
    relations.bind_table(con, name, kept_schema(name).empty_table())
    return {name}


def _refuse_disorder(con: duckdb.DuckDBPyConnection, group: Group) -> None:
    """Neighbours are read in stored order: refuse a file whose rows are not by session and time."""
    if _is_in_order(con):
        return
    for unit in group:
        alone = relations.connect(unit.root)
        relations.bind_files(alone, "stored_samples", [unit.samples_file], SAMPLES)
        if not _is_in_order(alone):
            raise StoreDamaged(
                f"samples {unit.name}: unreadable, or not sorted by session and time; "
                "run `levelhold check` to see how to mend it"
            )


def _is_in_order(con: duckdb.DuckDBPyConnection) -> bool:
    try:
        return con.execute(_OUT_OF_ORDER).fetchall() == [(0, 0)]
    except duckdb.Error:
        return False


def _days_of_keys(con: duckdb.DuckDBPyConnection, group: Group) -> dict[str, pa.Table]:
    """The session date of every maneuver and of every session, by its code."""
    if len(group) == 1:
        return {}
    found = {
        "maneuver_id": "SELECT maneuver_id AS key, session_date FROM maneuver_windows",
        "session_id": "SELECT session_id AS key, session_date FROM stored_sessions",
    }
    return {column: con.sql(query).to_arrow_table() for column, query in found.items()}


def _rounded(table: pa.Table) -> pa.Table:
    columns = [
        pc.round(column, ndigits=KEPT_DECIMALS) if pa.types.is_float64(column.type) else column
        for column in table.columns
    ]
    return pa.table(columns, schema=table.schema)


def _parts(table: pa.Table, group: Group, days: dict[str, pa.Table]) -> Iterator[pa.Table]:
    """The rows of a kept relation that belong to each file of the group, in the relation's order."""
    if len(group) == 1:
        yield table
        return
    column = "maneuver_id" if "maneuver_id" in table.column_names else "session_id"
    keys = days[column]
    place = pc.index_in(table[column], value_set=keys["key"].combine_chunks())
    dates = keys["session_date"].combine_chunks().take(place.combine_chunks())
    for unit in group:
        yield table.filter(pc.equal(dates, pa.scalar(unit.session_date, pa.date32())))
