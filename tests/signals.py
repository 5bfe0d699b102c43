"""One maneuver whose altitude or heading follows a formula, and the figures that SQL gives for it."""

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any

import pyarrow as pa

from tests.flights import Log, Task, connection_over, stored_tables
from tests.placed import NONE_PATCHY, NUMBERS, PLACED, patchy
from tests.tables import build_over

TARGET_FT = 4000.0
Signal = Callable[[float], float]
FIGURES = ("altitude_hold", "heading_hold", "excursions")
NOTHING_FOUND = pa.schema(
    [
        *((n, pa.string()) for n in ("maneuver_id", "session_id", "kind", "basis", "flown_by")),
        ("revision", pa.int32()),
        *((n, pa.float64()) for n in ("start_s", "end_s")),
        *((n, pa.float64()) for n in ("target_altitude_ft", "target_heading_deg")),
    ]
).empty_table()
"""No maneuver was searched for beside the one that was asked for."""


def own_limits(**limits: float) -> pa.Table:
    """Settings of a school's own; a signal may also jump or stand still without being cut there."""
    schema = pa.schema([("name", pa.string()), ("value", pa.float64())])
    uncut = {"jump_altitude_ft": 1e6, "jump_heading_deg": 1e6, "pause_s": 1e6}
    rows = [{"name": n, "value": v} for n, v in {**uncut, **limits}.items()]
    return pa.Table.from_pylist(rows, schema=schema)


def own_bands(**tolerances: float) -> pa.Table:
    """One standard, `band`, with a tolerance per channel."""
    units = {"altitude": "ft", "heading": "deg", "airspeed": "kt"}
    schema = pa.schema([(n, pa.string()) for n in ("standard_id", "channel", "unit")])
    rows = [{"standard_id": "band", "channel": c, "unit": units[c]} for c in tolerances]
    table = pa.Table.from_pylist(rows, schema=schema)
    return table.append_column("tolerance", pa.array(list(tolerances.values()), pa.float64()))


def evenly(length_s: float, hz: float) -> list[int]:
    """Sample times in milliseconds, from 0 to the whole length."""
    return [round(1000 * i / hz) for i in range(round(length_s * hz) + 1)]


def flown(
    error: Signal, times: Sequence[int], tolerance: float = 100.0, **limits: float
) -> Mapping[str, Any]:
    """The altitude figures of a maneuver whose altitude error follows `error` (ft, of seconds)."""
    [found] = flown_together([error], times, tolerance, **limits)
    return found


def flown_together(
    errors: Sequence[Signal], times: Sequence[int], tolerance: float = 100.0, **limits: float
) -> list[Mapping[str, Any]]:
    """The same for several errors, a session each: planning the queries once is most of the cost."""
    task = Task(0, times[-1] / 1000, target_heading_deg=None)
    logs = [
        Log(times, {"altitude_ft": [TARGET_FT + error(t / 1000) for t in times]}, [task], f"S{n}")
        for n, error in enumerate(errors)
    ]
    found = figures_of_each(logs, own_bands(altitude=tolerance), own_limits(**limits))
    return [found[log.session_id]["altitude"] for log in logs]


def figures_of(log: Log, bands: pa.Table, limits: pa.Table) -> dict[str, dict[str, Any]]:
    """The figures of a log's one maneuver, by channel: hold and excursions together."""
    return figures_of_each([log], bands, limits)[log.session_id]


def figures_of_each(
    logs: Sequence[Log], bands: pa.Table, limits: pa.Table
) -> dict[str, dict[str, dict[str, Any]]]:
    """The figures of each log's one maneuver, by session and channel."""
    con = connection_over(
        stored_tables(logs),
        FIGURES,
        own_standards=bands,
        own_limits=limits,
        inferred_maneuvers=NOTHING_FOUND,
    )
    found: dict[str, dict[str, dict[str, Any]]] = {log.session_id: {} for log in logs}
    for channel in ("altitude", "heading"):
        query = f"FROM excursions WHERE standard_id = 'band' AND channel = '{channel}'"
        bands_kept = {
            row["maneuver_id"]: row for row in con.sql(query).to_arrow_table().to_pylist()
        }
        for hold in con.sql(f"FROM {channel}_hold").to_arrow_table().to_pylist():
            session_id, *_ = hold["maneuver_id"].split(".")
            assert channel not in found[session_id]
            found[session_id][channel] = {**hold, **bands_kept.get(hold["maneuver_id"], {})}
    return found


@cache
def moments_of(values: tuple[float, ...], times: tuple[float, ...] | None = None) -> dict[str, Any]:
    """What channel_sums gives for values of equal weight (at these times, else a second apart)."""
    seconds = times or tuple(float(i) for i in range(len(values)))
    rows = [
        {"t_ms": round(1000 * t), "step_ms": 1000, "next_step_ms": 1000, "altitude_error_ft": value}
        for t, value in zip(seconds, values, strict=True)
    ]
    samples = pa.Table.from_pylist(
        [{f.name: {"maneuver_no": 1, **row}.get(f.name) for f in PLACED} for row in rows],
        schema=PLACED,
    )
    con = build_over(
        ["channel_sums"],
        placed_samples=samples,
        patchy_observations=patchy(),
        patchy_channels=NONE_PATCHY,
        maneuver_numbers=NUMBERS,
    )
    [row] = con.sql("FROM channel_sums").to_arrow_table().to_pylist()
    return dict(row)
