"""Everything that the pages show, read once from the relations: rows as they stand, by relation."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any, Final

import duckdb

from pipeline.pages.traces import TRACES, Traces, read_traces
from pipeline.reading import STORED, open_warehouse
from pipeline.relations import needed_for
from pipeline.settings import Settings
from pipeline.store import Warehouse, note_reader

Row = Mapping[str, Any]

SMALL: Final = (
    "as_of",
    "cleared_flags",
    "page_cohort_pairs",
    "page_device_health",
    "page_findings",
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


SOLID: Final = ("sessions", "session_gates", "maneuvers")
"""What nearly every other relation reads: read once into memory, so that its query, some of it deep, is
not planned anew inside each of theirs. That took two thirds of the time of gathering."""


@dataclass(frozen=True)
class Gathered:
    """The rows of every relation that a page reads, and the same by student where they are of one."""

    rows: Mapping[str, Sequence[Row]]
    traces: Traces = field(default_factory=Traces)

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
        if relation == TRACES:
            return self.traces.of(student_id)
        return self._by_student[relation].get(student_id, ())


def gather(warehouse: Warehouse, settings: Settings, as_of: date | None = None) -> Gathered:
    """Read every relation that the pages show, as of a date (default: the latest session's)."""
    return gather_some(warehouse, settings, [*SMALL, TRACES], as_of)


def gather_some(
    warehouse: Warehouse, settings: Settings, names: Iterable[str], as_of: date | None = None
) -> Gathered:
    """Read some of the relations that pages show, all as one moment found the store."""
    wanted = dict.fromkeys(names)
    small = [name for name in wanted if name != TRACES]
    needed = [*small, "page_trace_maneuvers", *_kept_for_traces()] if TRACES in wanted else small
    note_reader(warehouse)
    seen = warehouse.snapshot()
    first = open_warehouse(seen, settings, SOLID)
    solid = {name: first.sql(f"FROM {name}").to_arrow_table() for name in SOLID}
    con = open_warehouse(seen, settings, needed, as_of=as_of, extra=solid)
    rows = {name: read_relation(con, name) for name in small}
    return Gathered(rows, read_traces(seen, con) if TRACES in wanted else Traces())


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
