"""Two states of one relation, compared row by row and column by column."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import duckdb
import pyarrow as pa

from pipeline.relations import RelationFile

_SAME: Final = 1e-9
"""Figures that differ by less, as a share of the larger, are the same: the last digits of a sum."""


@dataclass(frozen=True)
class FigureMove:
    """How one column of one relation moved.

    `moved` of `compared` rows differ; of these `appeared` were unknown before and `vanished` are unknown now.
    `at` names, by the relation's grain, the row of the largest move from `before` to `after` (by size for
    numbers, the first for other values); `largest` is that size, None where no number moved.
    `rows_gone` and `rows_new` count rows of the relation that only one side has: `column` is then "".
    """

    relation: str
    column: str
    compared: int
    moved: int
    appeared: int
    vanished: int
    at: str
    before: str | None
    after: str | None
    largest: float | None
    rows_gone: int = 0
    rows_new: int = 0


def compare(relation: RelationFile, before: pa.Table, after: pa.Table) -> Iterator[FigureMove]:
    """The columns that moved between two states of a relation, and the rows that only one of them has."""
    con = duckdb.connect()
    con.execute("SET TimeZone = 'UTC'")
    con.register("figures_before", before)
    con.register("figures_after", after)
    keys = relation.grain
    yield from _rows_apart(con, relation)
    for column in after.column_names:
        if column in before.column_names and column not in keys:
            is_number = all(
                _is_number(table.schema.field(column).type) for table in (before, after)
            )
            yield from _column_move(con, relation, column, is_number)


def _is_number(kind: pa.DataType) -> bool:
    return bool(pa.types.is_floating(kind) or pa.types.is_integer(kind))


def _rows_apart(con: duckdb.DuckDBPyConnection, relation: RelationFile) -> Iterator[FigureMove]:
    using, at = ", ".join(relation.grain), _row_name(relation)
    query = f"""
        SELECT
            COUNT(*),
            COUNT(*) FILTER (WHERE b.is_there IS NULL),
            COUNT(*) FILTER (WHERE a.is_there IS NULL),
            MIN({at}) FILTER (WHERE a.is_there IS NULL OR b.is_there IS NULL)
        FROM (SELECT *, TRUE AS is_there FROM figures_before) AS a
        FULL JOIN (SELECT *, TRUE AS is_there FROM figures_after) AS b USING ({using})
    """
    ((rows, gone, new, where),) = con.execute(query).fetchall()
    if gone or new:
        yield FigureMove(
            relation.name, "", rows, gone + new, 0, 0, where, None, None, None, gone, new
        )


def _column_move(
    con: duckdb.DuckDBPyConnection, relation: RelationFile, column: str, is_number: bool
) -> Iterator[FigureMove]:
    size = f'ABS(b."{column}" - a."{column}")' if is_number else "NULL::DOUBLE"
    same = f'{size} <= {_SAME} * GREATEST(ABS(a."{column}"), ABS(b."{column}"))'
    query = f"""
        WITH pairs AS (
            SELECT
                {_row_name(relation)} AS row_name,
                a."{column}" AS old_value,
                b."{column}" AS new_value,
                {size} AS size,
                a."{column}" IS DISTINCT FROM b."{column}"
                AND NOT COALESCE({same if is_number else "FALSE"}, FALSE) AS is_moved
            FROM figures_before AS a
            INNER JOIN figures_after AS b USING ({", ".join(relation.grain)})
        ),
        counted AS (
            SELECT
                COUNT(*) AS compared,
                COUNT(*) FILTER (WHERE is_moved) AS moved,
                COUNT(*) FILTER (WHERE is_moved AND old_value IS NULL) AS appeared,
                COUNT(*) FILTER (WHERE is_moved AND new_value IS NULL) AS vanished
            FROM pairs
        )
        SELECT compared, moved, appeared, vanished, row_name, old_value::VARCHAR, new_value::VARCHAR, size
        FROM pairs
        CROSS JOIN counted
        WHERE is_moved
        ORDER BY size DESC NULLS LAST, row_name
        LIMIT 1
    """
    for row in con.execute(query).fetchall():
        yield _move(relation.name, column, row)


def _move(name: str, column: str, row: tuple[Any, ...]) -> FigureMove:
    compared, moved, appeared, vanished, at, old, new, size = row
    largest = None if size is None else float(size)
    return FigureMove(name, column, compared, moved, appeared, vanished, at, old, new, largest)


def _row_name(relation: RelationFile) -> str:
    """SQL that names a row by its grain."""
    return "CONCAT_WS(' ', " + ", ".join(f'"{key}"' for key in relation.grain) + ")"
