"""The drawn traces: many points, kept as a table and handed out student by student."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from pipeline import relations
from pipeline.schema.tables import TABLES
from pipeline.store.warehouse import Warehouse

TRACES: Final = "page_trace_points"


@dataclass(frozen=True)
class Traces:
    """The points of every student in one table, and where in it each student's lie."""

    points: pa.Table | None = None
    places: Mapping[str, tuple[int, int]] = field(default_factory=dict)

    def of(self, student_id: str) -> Sequence[Mapping[str, Any]]:
        """One student's points, by maneuver, channel and time."""
        if self.points is None or student_id not in self.places:
            return []
        part = self.points.slice(*self.places[student_id])
        columns = [column.to_pylist() for column in part.columns]
        return [
            dict(zip(part.column_names, row, strict=True)) for row in zip(*columns, strict=True)
        ]


def read_traces(warehouse: Warehouse, con: duckdb.DuckDBPyConnection) -> Traces:
    """The thinned traces of the maneuvers to be drawn, reading only the samples files that hold them.

    Needs page_trace_maneuvers in the connection; its stored_samples are narrowed to those sessions.
    """
    found = con.execute("SELECT DISTINCT session_date FROM page_trace_maneuvers").fetchall()
    dates = {row[0].isoformat() for row in found}
    if not dates:
        return Traces()
    files = [p for p in warehouse.sample_files() if p.parent.name.partition("=")[2] in dates]
    relations.bind_files(con, "stored_samples", files, TABLES["samples"])
    wanted = con.sql(
        "FROM stored_samples WHERE session_id IN (SELECT session_id FROM page_trace_maneuvers) "
        "ORDER BY session_id, revision, t_ms"
    ).to_arrow_table()
    relations.bind_table(con, "wanted_samples", wanted)
    con.execute("CREATE OR REPLACE VIEW stored_samples AS SELECT * FROM wanted_samples")
    relations.build(con, [TRACES], _standing(con))
    points = con.sql(
        "SELECT student_id, maneuver_id, channel, t_s, CASE WHEN ISFINITE(value) THEN value END AS value "
        f"FROM {TRACES} ORDER BY student_id, maneuver_id, channel, t_s"
    ).to_arrow_table()
    return Traces(points, _places(points))


def _places(points: pa.Table) -> dict[str, tuple[int, int]]:
    """For each student, the first row and how many follow: the table is in their order."""
    students = points.column("student_id").combine_chunks()
    runs = pc.run_end_encode(students, run_end_type=pa.int64())
    ends = runs.run_ends.to_pylist()
    starts = [0, *ends[:-1]]
    names = runs.values.to_pylist()
    return {n: (s, e - s) for n, s, e in zip(names, starts, ends, strict=True)}


def _standing(con: duckdb.DuckDBPyConnection) -> set[str]:
    """The relations that can be read in a connection already."""
    found = con.execute(
        "SELECT view_name FROM duckdb_views() UNION SELECT table_name FROM duckdb_tables()"
    ).fetchall()
    return {str(row[0]) for row in found}
