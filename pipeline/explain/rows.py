"""Rows of relations as dictionaries, and one session's samples as the relations see them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline import relations
from pipeline.errors import UsageError
from pipeline.reading import bind_settings, open_warehouse
from pipeline.schema.tables import TABLES
from pipeline.settings import Settings, nearest
from pipeline.store import Warehouse
from pipeline.store.absent import bring

Row = Mapping[str, Any]


def rows_of(
    con: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[object] = ()
) -> list[Row]:
    """All rows of a query, each as column name to value."""
    found = con.execute(query, list(parameters))
    names = [column[0] for column in found.description or ()]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def one_row(
    con: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[object] = ()
) -> Row | None:
    """The first row of a query; None where there is none."""
    rows = rows_of(con, query, parameters)
    return rows[0] if rows else None


def session_of(con: duckdb.DuckDBPyConnection, maneuver_id: str) -> Row:
    """The session that a maneuver belongs to. Raises UsageError where there is no such maneuver."""
    found = one_row(
        con,
        """
        SELECT s.*
        FROM maneuvers AS m
        INNER JOIN sessions AS s ON m.session_id = s.session_id
        WHERE m.maneuver_id = ?
        """,
        [maneuver_id],
    )
    if found is None:
        known = [row[0] for row in con.execute("SELECT maneuver_id FROM maneuvers").fetchall()]
        raise UsageError(
            f"there is no measured maneuver {maneuver_id}; all are listed by levelhold query "
            '"SELECT maneuver_id, kind FROM maneuvers", those of a log that just landed after levelhold '
            f"score{nearest(maneuver_id, known)}"
        )
    return found


def open_seconds(
    warehouse: Warehouse, settings: Settings, session: Row, names: Iterable[str]
) -> duckdb.DuckDBPyConnection:
    """A connection in which `names` are built anew from one session's samples and its neutral."""
    con = relations.connect()
    bound = bind_settings(con, settings)
    key = (session["session_id"], session["revision"])
    day, batch_id = session["session_date"], session["batch_id"]
    file = warehouse.samples_path(day, batch_id)
    bring([file])
    samples = pq.read_table(file, filters=[("session_id", "=", key[0])])
    stored = {
        "stored_samples": samples.select(TABLES["samples"].names),
        "stored_sessions": pq.read_table(warehouse.table_path("sessions", batch_id)),
        "stored_tasks": _tasks(warehouse, batch_id),
        "bound_neutrals": _neutrals(warehouse, settings, session),
    }
    for name, table in stored.items():
        mine = table if name == "bound_neutrals" else _only(table, *key)
        relations.bind_table(con, name, mine)
        bound.add(name)
    devices = [pq.read_table(path) for path in warehouse.table_files("devices")]
    schema = TABLES["devices"]
    relations.bind_table(con, "stored_devices", _joined(devices, schema))
    relations.build(con, names, bound | {"stored_devices"})
    return con


def _only(table: pa.Table, session_id: str, revision: int) -> pa.Table:
    ids, revisions = table["session_id"], table["revision"]
    return table.filter(pc.and_(pc.equal(ids, session_id), pc.equal(revisions, revision)))


def _joined(tables: list[pa.Table], schema: pa.Schema) -> pa.Table:
    return (
        pa.concat_tables([t.select(schema.names) for t in tables])
        if tables
        else schema.empty_table()
    )


def _tasks(warehouse: Warehouse, batch_id: str) -> pa.Table:
    path = warehouse.table_path("tasks", batch_id)
    return pq.read_table(path) if path.exists() else TABLES["tasks"].empty_table()


def _neutrals(warehouse: Warehouse, settings: Settings, session: Row) -> pa.Table:
    con = open_warehouse(warehouse, settings, ["bound_neutrals"])
    return con.sql(
        "SELECT * FROM bound_neutrals WHERE device_id = $device AND session_date = $day",
        params={"device": session["device_id"], "day": session["session_date"]},
    ).to_arrow_table()
