"""Hold the SQL's relations against the reference, figure by figure."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from tests.flights import connection_over, rows_by
from tests.reference.measures import Measures, Rows

KEYS: Mapping[str, tuple[str, ...]] = {
    "maneuvers": ("maneuver_id",),
    "altitude_hold": ("maneuver_id",),
    "heading_hold": ("maneuver_id",),
    "airspeed_hold": ("maneuver_id",),
    "excursions": ("maneuver_id", "standard_id", "channel"),
    "excursion_runs": ("maneuver_id", "channel", "edge", "run_no"),
    "steadiness": ("maneuver_id",),
    "trim_moves": ("maneuver_id", "move_no"),
    "control_turns": ("maneuver_id", "input"),
    "device_neutrals": ("device_id", "session_date"),
    "held_control": ("maneuver_id",),
    "trim_settling": ("maneuver_id",),
    "hands_off": ("maneuver_id", "stretch_no"),
    "turn_figures": ("maneuver_id",),
    "capture_figures": ("maneuver_id",),
    "technique": ("maneuver_id",),
    "roll_trim": ("maneuver_id",),
    "air_readings": ("session_id", "revision"),
    "control_neutrals": ("device_id", "session_date", "input"),
    "control_moves": ("device_id", "input", "session_date"),
    "control_steps": ("device_id", "input", "session_date"),
    "sensor_biases": ("device_id", "session_date", "sensor"),
    "device_health": ("device_id", "device_check"),
}
"""Every relation that the reference gives too, and what tells its rows apart."""

OF_DEVICES = (
    *("device_neutrals", "control_neutrals", "control_moves", "control_steps"),
    *("sensor_biases", "device_health"),
)
OF_MANEUVERS = tuple(name for name in KEYS if name == "device_neutrals" or name not in OF_DEVICES)


@dataclass(frozen=True)
class Difference:
    """One figure that the SQL and the reference tell differently."""

    relation: str
    key: tuple[Any, ...]
    column: str
    by_sql: object
    by_reference: object

    @property
    def size(self) -> float:
        """How far apart two numbers are; infinite for anything else."""
        a, b = self.by_sql, self.by_reference
        is_number = all(isinstance(x, int | float) and not isinstance(x, bool) for x in (a, b))
        return abs(float(a) - float(b)) if is_number else math.inf  # type: ignore[arg-type]


def reference_rows(measures: Measures, relation: str) -> Rows:
    """A relation as the reference has it."""
    if relation.endswith("_hold"):
        return measures.hold_rows(relation.removesuffix("_hold"))
    if relation == "device_neutrals":
        return measures.neutrals
    teller = measures.fleet if relation in OF_DEVICES else measures
    found: Rows = getattr(teller, relation)()
    return found


def reference_over(con: duckdb.DuckDBPyConnection, tables: Mapping[str, pa.Table]) -> Measures:
    """The reference of a store, for the maneuvers, standards and limits of a connection over it."""
    windows = con.sql("FROM maneuver_windows").to_arrow_table().to_pylist()
    standards = con.sql("FROM standards").to_arrow_table().to_pylist()
    values = con.sql("SELECT name, value FROM settings").fetchall()
    limits = {str(n): float(v) for n, v in values}
    [(as_of,)] = con.sql("FROM as_of").fetchall()
    return Measures(tables, windows, standards, limits, as_of)


def differences(
    tables: Mapping[str, pa.Table], relations: Sequence[str] = tuple(KEYS), **bound: pa.Table
) -> Iterator[Difference]:
    """Every figure, also equal ones, of the relations over a store: by SQL and by the reference."""
    needed = [*relations, "maneuver_windows", "standards", "settings", "as_of"]
    con = connection_over(tables, needed, **bound)
    measures = reference_over(con, tables)
    for relation in relations:
        by_sql = rows_by(con, relation, *KEYS[relation])
        by_reference = reference_rows(measures, relation)
        for key in by_sql.keys() | by_reference.keys():
            yield from _row_differences(relation, key, by_sql.get(key), by_reference.get(key))


def _row_differences(
    relation: str,
    key: tuple[Any, ...],
    by_sql: Mapping[str, Any] | None,
    by_reference: Mapping[str, Any] | None,
) -> Iterator[Difference]:
    if by_sql is None or by_reference is None:
        yield Difference(relation, key, "(the row itself)", by_sql, by_reference)
        return
    for column, value in by_reference.items():
        if column == "has_reason":
            found: object = by_sql[f"{relation}_reason"] is not None
        else:
            found = by_sql[column]
        yield Difference(relation, key, column, found, value)


def is_same(difference: Difference, tolerance: float = 2e-6) -> bool:
    """Whether the two agree: numbers to `tolerance` of their size (of 1 at least), all else exactly."""
    a, b = difference.by_sql, difference.by_reference
    if isinstance(a, bool) or isinstance(b, bool) or a is None or b is None:
        return a is b
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= tolerance * max(1.0, abs(b))
    return a == b
