"""Hold the search for maneuvers against the reference: breaks, seconds, motions, finds, maneuvers.

Each step is held on the SQL's rows of the step before, which were held first: where a figure lies
within its last digit of a limit, the two may not decide it twice.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import duckdb
import pyarrow as pa

from tests.flights import connection_over
from tests.reference.assigned import assigned_of
from tests.reference.breaks import breaks_of
from tests.reference.compare import Difference
from tests.reference.finds import climbs_of, power_changes_of, turns_of
from tests.reference.inferred import inferred_of, open_stretches_of
from tests.reference.search import Row, is_searched, motions_of, seconds_of
from tests.reference.sessions import Limits, Session, read_sessions
from tests.reference.windows import windows_of

STEPS: Mapping[str, tuple[str, ...]] = {
    "session_breaks": ("from_ms", "break_kind"),
    "open_stretches": ("start_s",),
    "session_seconds": ("second_no",),
    "slow_motions": ("second_no",),
    "found_climbs": ("start_no",),
    "found_turns": ("start_no",),
    "found_power_changes": ("start_no",),
    "found_windows": ("start_no",),
    "inferred_maneuvers": ("maneuver_id",),
    "maneuver_windows": ("maneuver_id",),
}
"""The relations of the search, in order, and what tells a session's rows of each apart."""

Rows = Mapping[Any, Row]


def search_differences(tables: Mapping[str, pa.Table], **bound: pa.Table) -> Iterator[Difference]:
    """Every figure, also equal ones, of every step of the search over a store."""
    con = connection_over(tables, [*STEPS, "inferred_confidences", "settings"], **bound)
    limits = {str(n): float(v) for n, v in con.sql("SELECT name, value FROM settings").fetchall()}
    by_session = {name: _by_session(con, name, key) for name, key in STEPS.items()}
    told = con.sql("SELECT kind, evidence, has_power, confidence FROM inferred_confidences")
    confidences = {(k, e, p): float(c) for k, e, p, c in told.fetchall()}
    tasks: dict[tuple[str, int], list[Row]] = defaultdict(list)
    for task in tables["stored_tasks"].to_pylist():
        tasks[task["session_id"], task["revision"]].append(task)
    for key, session in read_sessions(tables, limits).items():
        by_sql = {name: rows.get(key, {}) for name, rows in by_session.items()}
        ours = _steps_of(session, tasks[key], by_sql, confidences, limits)
        for name, rows in ours.items():
            yield from _differences(name, key, STEPS[name], by_sql[name], rows)


def _by_session(
    con: duckdb.DuckDBPyConnection, name: str, key: tuple[str, ...]
) -> dict[tuple[str, int], dict[Any, Row]]:
    found: dict[tuple[str, int], dict[Any, Row]] = defaultdict(dict)
    for row in con.sql(f"FROM {name}").to_arrow_table().to_pylist():
        own = found[row["session_id"], row["revision"]]
        place = tuple(row[k] for k in key)
        assert place not in own, f"{name}: {key} is no key"
        own[place] = row
    return found


def _steps_of(
    session: Session,
    tasks: Sequence[Row],
    by_sql: Mapping[str, Rows],
    confidences: Mapping[tuple[str, str, bool], float],
    limits: Limits,
) -> dict[str, Sequence[Row]]:
    """The reference's rows of every step, each from the SQL's rows of the steps before."""
    breaks, climbs, turns, changes, windows, inferred = (
        list(by_sql[name].values())
        for name in (
            "session_breaks",
            "found_climbs",
            "found_turns",
            "found_power_changes",
            "found_windows",
            "inferred_maneuvers",
        )
    )
    seconds, motions = (
        {s: row for (s,), row in by_sql[name].items()}
        for name in ("session_seconds", "slow_motions")
    )
    spans = open_stretches_of(session, tasks)
    found = {"windows": windows, "climbs": climbs, "turns": turns, "changes": changes}
    is_open = is_searched(spans, limits)
    return {
        "session_breaks": breaks_of(session, limits),
        "open_stretches": [{"start_s": a, "end_s": b} for a, b in spans],
        "session_seconds": list(seconds_of(session, breaks, limits).values()) if is_open else [],
        "slow_motions": [{"second_no": s, **row} for s, row in motions_of(seconds, limits).items()],
        "found_climbs": climbs_of(seconds, motions, limits),
        "found_turns": turns_of(seconds, motions, limits),
        "found_power_changes": power_changes_of(motions, climbs, limits),
        "found_windows": windows_of(seconds, climbs, turns, changes, limits),
        "inferred_maneuvers": inferred_of(
            session, spans, found, seconds, motions, confidences, limits
        ),
        "maneuver_windows": [
            {
                **{n: row[n] for n in row if n in _WINDOW},
                "start_ms": round(row["start_s"] * 1000),
                "end_ms": round(row["end_s"] * 1000),
                "gap_limit_ms": session.session_gap_ms,
            }
            for row in [*assigned_of(session, tasks, breaks), *inferred]
        ],
    }


_WINDOW = {
    *("maneuver_id", "kind", "basis", "start_s", "end_s"),
    *("target_altitude_ft", "target_heading_deg", "flown_by"),
}
_ASIDE = {"breaks", "turns", "direction"}
"""What the reference notes on the way and no relation has."""


def _differences(
    name: str,
    session: tuple[str, int],
    key: tuple[str, ...],
    by_sql: Rows,
    ours: Sequence[Row],
) -> Iterator[Difference]:
    by_key = {tuple(row[k] for k in key): row for row in ours}
    assert len(by_key) == len(ours)
    for place in by_sql.keys() | by_key.keys():
        sql, row = by_sql.get(place), by_key.get(place)
        if sql is None or row is None:
            yield Difference(name, (*session, *place), "(the row itself)", sql, row)
            continue
        for column in row.keys() - _ASIDE:
            yield Difference(name, (*session, *place), column, sql[column], row[column])
