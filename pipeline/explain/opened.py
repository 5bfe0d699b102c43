"""What an explanation reads: a maneuver's figures, and the seconds that they came from."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb

from pipeline.explain.rows import Row, one_row


@dataclass(frozen=True)
class Opened:
    """The warehouse's figures, and the same session's seconds, side by side."""

    figures: duckdb.DuckDBPyConnection
    seconds: duckdb.DuckDBPyConnection
    maneuver: Row
    session: Row


def figures_of(opened: Opened, relation: str) -> Row:
    """A maneuver's row of a relation of figures."""
    row = one_row(
        opened.figures,
        f"SELECT * FROM {relation} WHERE maneuver_id = ?",
        [opened.maneuver["maneuver_id"]],
    )
    assert row is not None
    return row
