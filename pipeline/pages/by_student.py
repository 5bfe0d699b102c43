"""A relation with many rows for each student: kept as a table and handed out student by student."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

Row = Mapping[str, Any]


@dataclass(frozen=True)
class StudentTable:
    """The rows of all students, a student's beside each other, and where in the table each student's lie."""

    table: pa.Table
    places: Mapping[str, tuple[int, int]] = field(default_factory=dict)

    def of(self, student_id: str) -> Sequence[Row]:
        """One student's rows, in the relation's order."""
        first, count = self.places.get(student_id, (0, 0))
        return _rows(self.table.slice(first, count))

    def rows(self, columns: Collection[str] | None = None) -> Sequence[Row]:
        """The rows of all students, with all columns or those named."""
        return _rows(self.table if columns is None else self.table.select(list(columns)))

    def only(self, student_id: str, without: Collection[str] = ()) -> StudentTable:
        """One student's part of it, without some columns."""
        first, count = self.places.get(student_id, (0, 0))
        kept = [name for name in self.table.column_names if name not in without]
        part = self.table.slice(first, count).select(kept)
        return StudentTable(part, {student_id: (0, count)})


def student_table(con: duckdb.DuckDBPyConnection, query: str) -> StudentTable:
    """The rows of a query with a column student_id; a figure that is no number becomes None."""
    found = con.sql(query)
    kinds = zip(found.columns, found.types, strict=True)
    listed = ", ".join(
        f"CASE WHEN ISFINITE({name}) THEN {name} END AS {name}" if str(kind) == "DOUBLE" else name
        for name, kind in kinds
    )
    table = con.sql(f"SELECT {listed} FROM ({query})").to_arrow_table().combine_chunks()
    return in_order(table)


def in_order(table: pa.Table) -> StudentTable:
    """A table as it is, but each student's rows beside each other, in the order that they had."""
    if table.num_rows == 0:
        return StudentTable(table)
    # This sort is stable: a student's rows stay in the order that they had.
    table = table.take(pc.sort_indices(table, sort_keys=[("student_id", "ascending")]))
    runs = pc.run_end_encode(table["student_id"].combine_chunks(), run_end_type=pa.int64())
    ends = runs.run_ends.to_pylist()
    starts = [0, *ends[:-1]]
    names = runs.values.to_pylist()
    return StudentTable(table, {n: (s, e - s) for n, s, e in zip(names, starts, ends, strict=True)})


def _rows(table: pa.Table) -> list[Row]:
    columns = [column.to_pylist() for column in table.columns]
    names = table.column_names
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]
