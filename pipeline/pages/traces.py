"""The drawn traces: many points, made for a few students at a time from the samples that they need."""

from __future__ import annotations

from collections.abc import Collection
from functools import cached_property
from pathlib import Path
from typing import Final

import duckdb
import pyarrow as pa

from pipeline import relations
from pipeline.pages.by_student import StudentTable, student_table
from pipeline.schema.tables import TABLES
from pipeline.store.absent import bring
from pipeline.store.warehouse import Warehouse

TRACES: Final = "page_trace_points"


class TraceReader:
    """Thins the traces of the maneuvers to be drawn, reading only the samples files that hold them.

    Needs page_trace_maneuvers, a table, in the connection, and the store as it was opened. From the first
    reading on, the connection's page_trace_maneuvers and stored_samples are narrowed to what was read last.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, warehouse: Warehouse) -> None:
        self._con = con
        self._warehouse = warehouse

    @cached_property
    def _standing(self) -> frozenset[str]:
        """What could be read before the first reading, and all maneuvers to be drawn set apart."""
        query = "SELECT view_name FROM duckdb_views() UNION SELECT table_name FROM duckdb_tables()"
        standing = frozenset(str(row[0]) for row in self._con.execute(query).fetchall())
        self._con.execute("CREATE OR REPLACE TABLE every_trace AS FROM page_trace_maneuvers")
        return standing

    def read(self, students: Collection[str] | None = None) -> StudentTable:
        """The points of some students, or all: by maneuver, channel and time."""
        con, standing = self._con, self._standing
        con.execute(
            "CREATE OR REPLACE TABLE page_trace_maneuvers AS FROM every_trace "
            "WHERE ? OR student_id IN (SELECT UNNEST(?::VARCHAR[]))",
            [students is None, sorted(students or ())],
        )
        if not (files := self._files()):
            return StudentTable(pa.table({}))
        bring(files)
        relations.bind_files(con, "stored_samples", files, TABLES["samples"])
        wanted = con.sql(
            "FROM stored_samples WHERE session_id IN (SELECT session_id FROM page_trace_maneuvers) "
            "ORDER BY session_id, revision, t_ms"
        ).to_arrow_table()
        relations.bind_table(con, "wanted_samples", wanted)
        con.execute("CREATE OR REPLACE VIEW stored_samples AS SELECT * FROM wanted_samples")
        relations.build(con, [TRACES], standing)
        return student_table(
            con,
            f"SELECT student_id, maneuver_id, channel, t_s, value FROM {TRACES} "
            "ORDER BY student_id, maneuver_id, channel, t_s",
        )

    def _files(self) -> list[Path]:
        found = self._con.execute("SELECT DISTINCT session_date FROM page_trace_maneuvers")
        dates = {row[0].isoformat() for row in found.fetchall()}
        files = self._warehouse.sample_files()
        return [path for path in files if path.parent.name.partition("=")[2] in dates]
