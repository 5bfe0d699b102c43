"""The flags that stand, as an operator and a run report tell them."""

from dataclasses import dataclass
from datetime import date
from typing import Final

import duckdb

from pipeline.reading import open_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse

RELATIONS: Final = ("flags", "new_flags", "cleared_flags", "insufficient_data")
"""What must be read to tell what stands."""


@dataclass(frozen=True)
class FlagLine:
    """One standing flag."""

    student_id: str
    aspect: str
    since_date: date
    is_new: bool
    reason: str


@dataclass(frozen=True)
class Standing:
    """The flags that stand, those that cleared lately, and students with too little data in an aspect."""

    flags: tuple[FlagLine, ...]
    cleared: tuple[str, ...]
    undecided: tuple[str, ...]


def standing_flags(warehouse: Warehouse, settings: Settings, as_of: date | None = None) -> Standing:
    """What stands as of a date (default: the latest session)."""
    return standing_in(open_warehouse(warehouse, settings, RELATIONS, as_of=as_of))


def standing_in(con: duckdb.DuckDBPyConnection) -> Standing:
    """What stands in a warehouse that was opened with RELATIONS."""
    rows = con.execute(
        """
        SELECT f.student_id, f.aspect, f.since_date, n.student_id IS NOT NULL, f.reason
        FROM flags AS f
        LEFT JOIN (SELECT DISTINCT student_id, aspect FROM new_flags) AS n USING (student_id, aspect)
        ORDER BY f.student_id, f.aspect
        """
    ).fetchall()
    cleared = con.execute(
        "SELECT DISTINCT student_id || ' ' || aspect FROM cleared_flags ORDER BY 1"
    ).fetchall()
    undecided = con.execute(
        "SELECT DISTINCT student_id FROM insufficient_data ORDER BY 1"
    ).fetchall()
    return Standing(
        tuple(FlagLine(*row) for row in rows),
        tuple(str(row[0]) for row in cleared),
        tuple(str(row[0]) for row in undecided),
    )
