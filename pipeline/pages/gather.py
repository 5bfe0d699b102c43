"""Everything that the pages show, read once from the relations: rows as they stand, by relation."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Final

import duckdb

from pipeline.pages.by_student import Row, StudentTable, student_table
from pipeline.pages.traces import TRACES, TraceReader
from pipeline.reading import STORED, open_warehouse
from pipeline.relations import needed_for
from pipeline.settings import Settings
from pipeline.store import Warehouse, note_reader

__all__ = [
    "OF_STUDENTS",
    "SMALL",
    "Gathered",
    "Opened",
    "Row",
    "gather",
    "gather_some",
    "open_pages",
]

SMALL: Final = (
    "as_of",
    "cleared_flags",
    "page_cohort_pairs",
    "page_device_health",
    "page_findings",
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
    "reviews",
    "settings",
    "standards",
    "student_standards",
    "student_states",
)
"""The relations that pages read; each is small once samples are measured."""

OF_STUDENTS: Final = (
    "page_maneuvers",
    "page_student_sessions",
    "page_trace_edges",
    "page_trace_maneuvers",
    "page_trace_moments",
    "page_trace_spans",
    "student_trends",
)
"""Those with many rows for each student: they stay tables, and become rows one student at a time."""


@dataclass(frozen=True)
class Gathered:
    """The rows of every relation that a page reads; those of `tables` have many rows for each student."""

    rows: Mapping[str, Sequence[Row]]
    tables: Mapping[str, StudentTable] = field(default_factory=dict)

    def __getitem__(self, relation: str) -> Sequence[Row]:
        """All rows of a relation, in its own order."""
        if relation in self.tables:
            return self.tables[relation].rows()
        return self.rows[relation]

    def columns(self, relation: str, *names: str) -> Sequence[Row]:
        """All rows of a relation with some of its columns: of one with many rows, no more is made."""
        if relation in self.tables:
            return self.tables[relation].rows(names)
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
        if relation in self.tables:
            return self.tables[relation].of(student_id)
        return self._by_student[relation].get(student_id, ())

    def with_tables(self, tables: Mapping[str, StudentTable]) -> Gathered:
        """The same with further relations of students."""
        found = Gathered(self.rows, {**self.tables, **tables})
        # What was sorted by student once need not be sorted again.
        found.__dict__["_by_student"] = self._by_student
        return found


@dataclass(frozen=True)
class Opened:
    """A connection in which what pages show can be read, and the store as the moment of opening found it."""

    con: duckdb.DuckDBPyConnection
    warehouse: Warehouse

    def traces(self) -> TraceReader:
        """What makes the traces of students from samples; to be asked for when all else was read."""
        return TraceReader(self.con, self.warehouse)


def open_pages(warehouse: Warehouse, settings: Settings, as_of: date | None = None) -> Opened:
    """Open a store for all that pages show, as of a date (default: the latest session's)."""
    return _open(warehouse, settings, [*SMALL, TRACES], as_of)


def _open(
    warehouse: Warehouse, settings: Settings, wanted: Sequence[str], as_of: date | None
) -> Opened:
    names = [name for name in wanted if name != TRACES]
    if TRACES in wanted:
        names += ["page_trace_maneuvers", *_kept_for_traces()]
    note_reader(warehouse)
    seen = warehouse.snapshot()
    return Opened(open_warehouse(seen, settings, names, as_of=as_of), seen)


def gather(opened: Opened) -> Gathered:
    """Read every relation that the pages show, but the traces, from what open_pages gave."""
    return _read(opened.con, SMALL)


def gather_some(
    warehouse: Warehouse, settings: Settings, names: Iterable[str], as_of: date | None = None
) -> Gathered:
    """Read some of the relations that pages show, traces too, all as one moment found the store."""
    wanted = tuple(dict.fromkeys(names))
    opened = _open(warehouse, settings, wanted, as_of)
    gathered = _read(opened.con, [name for name in wanted if name != TRACES])
    return gathered.with_tables({TRACES: opened.traces().read()} if TRACES in wanted else {})


def _read(con: duckdb.DuckDBPyConnection, names: Iterable[str]) -> Gathered:
    return Gathered(
        {name: read_relation(con, name) for name in names if name not in OF_STUDENTS},
        {name: student_table(con, f"FROM {name}") for name in names if name in OF_STUDENTS},
    )


def _kept_for_traces() -> list[str]:
    """What traces rest on that was kept when samples were measured: read, not made anew."""
    return [one.name for one in needed_for([TRACES], STORED) if one.is_kept]


def read_relation(con: duckdb.DuckDBPyConnection, name: str) -> Sequence[Row]:
    """A relation's rows as plain mappings; a figure that is no number becomes None."""
    columns = [(row[0], row[1]) for row in con.execute(f"DESCRIBE {name}").fetchall()]
    listed = ", ".join(_finite(column) if kind == "DOUBLE" else column for column, kind in columns)
    names = [column for column, _ in columns]
    found = con.execute(f"SELECT {listed} FROM {name}").fetchall()
    return [dict(zip(names, row, strict=True)) for row in found]


def _finite(column: str) -> str:
    return f"CASE WHEN ISFINITE({column}) THEN {column} END AS {column}"
