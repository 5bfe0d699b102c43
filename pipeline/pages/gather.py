"""Everything that the pages show, read once from the relations: rows as they stand, by relation."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, Final

import duckdb

from pipeline import relations
from pipeline.reading import open_warehouse
from pipeline.schema.tables import TABLES
from pipeline.settings import Settings
from pipeline.store.warehouse import Warehouse

Row = Mapping[str, Any]

SMALL: Final = (
    "as_of",
    "cleared_flags",
    "device_health",
    "exclusions",
    "flags",
    "insufficient_data",
    "limits",
    "new_flags",
    "not_seen",
    "page_checks",
    "page_cohort_weeks",
    "page_device_checks",
    "page_missing_channels",
    "page_group_weeks",
    "page_settling_points",
    "cohort_differences",
    "cohort_states",
    "settling_medians",
    "settling_differences",
    "student_trends",
    "worth_a_word",
    "page_device_days",
    "page_device_effects",
    "page_evidence",
    "page_left_out",
    "page_maneuvers",
    "page_session_points",
    "page_student_sessions",
    "page_suspect_devices",
    "page_students",
    "scatter_notes",
    "page_trace_edges",
    "page_trace_maneuvers",
    "page_trace_moments",
    "page_trace_spans",
    "session_gates",
    "settings",
    "standards",
    "student_standards",
    "student_states",
)
"""The relations that pages read whole; each is small once samples are measured."""

TRACES: Final = "page_trace_points"


@dataclass(frozen=True)
class Gathered:
    """The rows of every relation that a page reads, and the same by student where they are of one."""

    rows: Mapping[str, Sequence[Row]]

    def __getitem__(self, relation: str) -> Sequence[Row]:
        """All rows of a relation, in its own order."""
        return self.rows[relation]

    @cached_property
    def as_of(self) -> date | None:
        """The date that the pages are told for; None where there is no session at all."""
        found: date | None = self["as_of"][0]["as_of_date"]
        return found

    @cached_property
    def limits(self) -> Row:
        """Every limit by name."""
        return self["limits"][0]

    @cached_property
    def _by_student(self) -> Mapping[str, Mapping[str, Sequence[Row]]]:
        found: dict[str, dict[str, list[Row]]] = {}
        for relation, rows in self.rows.items():
            groups = found.setdefault(relation, defaultdict(list))
            if rows and "student_id" in rows[0]:
                for row in rows:
                    groups[row["student_id"]].append(row)
        return found

    def of(self, student_id: str, relation: str) -> Sequence[Row]:
        """One student's rows of a relation."""
        return self._by_student[relation].get(student_id, ())


def gather(warehouse: Warehouse, settings: Settings, as_of: date | None = None) -> Gathered:
    """Read every relation that the pages show, as of a date (default: the latest session's)."""
    return gather_some(warehouse, settings, [*SMALL, TRACES], as_of)


def gather_some(
    warehouse: Warehouse, settings: Settings, names: Iterable[str], as_of: date | None = None
) -> Gathered:
    """Read some of the relations that pages show."""
    wanted = dict.fromkeys(names)
    small = [name for name in wanted if name != TRACES]
    needed = [*small, "page_trace_maneuvers"] if TRACES in wanted else small
    con = open_warehouse(warehouse, settings, needed, as_of=as_of)
    rows = {name: read_relation(con, name) for name in small}
    if TRACES in wanted:
        rows[TRACES] = traces(warehouse, con)
    return Gathered(rows)


def read_relation(con: duckdb.DuckDBPyConnection, name: str) -> Sequence[Row]:
    """A relation's rows as plain mappings; a figure that is no number becomes None."""
    found = con.execute(f"SELECT * FROM {name}")
    names = [column[0] for column in found.description or ()]
    return [dict(zip(names, map(_plain, row), strict=True)) for row in found.fetchall()]


def _plain(value: Any) -> Any:  # noqa: ANN401 - a cell is of any type
    return None if isinstance(value, float) and not math.isfinite(value) else value


def traces(warehouse: Warehouse, con: duckdb.DuckDBPyConnection) -> Sequence[Row]:
    """The thinned traces of the maneuvers to be drawn, reading only the samples files that hold them."""
    found = con.execute("SELECT DISTINCT session_date FROM page_trace_maneuvers").fetchall()
    dates = {row[0].isoformat() for row in found}
    if not dates:
        return []
    files = [p for p in warehouse.sample_files() if p.parent.name.partition("=")[2] in dates]
    relations.bind_files(con, "stored_samples", files, TABLES["samples"])
    wanted = con.sql(
        "FROM stored_samples WHERE session_id IN (SELECT session_id FROM page_trace_maneuvers) "
        "ORDER BY session_id, revision, t_ms"
    ).to_arrow_table()
    relations.bind_table(con, "wanted_samples", wanted)
    con.execute("CREATE OR REPLACE VIEW stored_samples AS SELECT * FROM wanted_samples")
    relations.build(con, [TRACES], _standing(con))
    return read_relation(con, TRACES)


def _standing(con: duckdb.DuckDBPyConnection) -> set[str]:
    """The relations that can be read in a connection already."""
    found = con.execute(
        "SELECT view_name FROM duckdb_views() UNION SELECT table_name FROM duckdb_tables()"
    ).fetchall()
    return {str(row[0]) for row in found}
