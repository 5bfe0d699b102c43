"""Logs made from formulas, for tests: samples of one session as landing would store them, and its row."""

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pyarrow as pa

from pipeline.schema.channels import CHANNELS
from pipeline.schema.tables import SAMPLES, SESSIONS, TABLES

Formula = Callable[[np.ndarray], Any]
DAY = date(2026, 3, 2)


def samples(
    seconds: float,
    hz: float = 1.0,
    session_id: str = "s1",
    without: Sequence[tuple[float, float]] = (),
    **channels: Any,  # noqa: ANN401 (formulas, spread from loose tables)
) -> pa.Table:
    """The samples of one session from 0 s on: each channel is a formula of the times in seconds.

    A channel that is not named is not recorded; times in `without` (from inclusive, to exclusive) are lost.
    """
    t = np.arange(0, seconds, 1 / hz)
    for start, end in without:
        t = t[(t < start) | (t >= end)]
    columns: dict[str, Any] = {
        "session_id": [session_id] * len(t),
        "revision": np.ones(len(t), dtype=np.int32),
        "t_ms": np.round(t * 1000).astype(np.int32),
    }
    for channel in CHANNELS:
        if channel.name in channels:
            values = np.broadcast_to(channels[channel.name](t), t.shape)
            columns[channel.name] = pa.array(values).cast(channel.arrow_type)
        else:
            columns[channel.name] = pa.nulls(len(t), channel.arrow_type)
    return pa.table(columns, schema=SAMPLES)


def shifted(log: pa.Table, late_ms: int) -> pa.Table:
    """The same samples from a recorder that began `late_ms` after the session's start, or before it."""
    t_ms = pa.array(np.asarray(log["t_ms"]) + late_ms, pa.int32())
    return log.set_column(log.column_names.index("t_ms"), "t_ms", t_ms)


def session(log: pa.Table, **known: Any) -> pa.Table:  # noqa: ANN401
    """The stored row of the session that a log belongs to; columns named in `known` are as given."""
    t_s = np.asarray(log["t_ms"]) / 1000
    step_s = float(np.median(np.diff(t_s))) if len(t_s) > 1 else None
    row: dict[str, Any] = {
        "session_id": log["session_id"][0].as_py() if log.num_rows else "s1",
        "revision": 1,
        "batch_id": "b20260302T200000Z-000001",
        "student_id": "A",
        "session_date": DAY,
        "started_at": datetime(2026, 3, 2, 9, tzinfo=UTC),
        "device_id": "D1",
        "recorder": "canonical",
        "duration_s": float(t_s[-1] - t_s[0]) if log.num_rows else 0.0,
        "sample_count": log.num_rows,
        "median_step_s": step_s,
        "gap_limit_s": max(1.5, 2.5 * (step_s or 0)),
        "log_name": "s1.csv",
        "log_sha256": "0",
        "row_sha256": "0",
        "channels": [c.name for c in CHANNELS if log[c.name].null_count < log.num_rows],
        "sparse_channels": [],
        "gates": [],
        "time_column": "time_s",
        **known,
    }
    return pa.Table.from_pylist([row], schema=SESSIONS)


def ramp(*points: tuple[float, float]) -> Formula:
    """Straight lines between (second, value) points; level before the first and after the last."""
    at, values = zip(*points, strict=True)
    return lambda t: np.interp(t, at, values)


NO_TASKS = TABLES["tasks"].empty_table()
NO_LIMITS = pa.schema([("name", pa.string()), ("value", pa.float64())]).empty_table()
_BREAKS = pa.schema(
    [
        ("session_id", pa.string()),
        ("revision", pa.int32()),
        ("from_ms", pa.int32()),
        ("to_ms", pa.int32()),
        ("break_kind", pa.string()),
    ]
)


def breaks(*found: tuple[str, int, int], session_id: str = "s1") -> pa.Table:
    """The relation `session_breaks` of one session: (kind, from_ms, to_ms) each."""
    rows = [
        {"session_id": session_id, "revision": 1, "from_ms": a, "to_ms": b, "break_kind": kind}
        for kind, a, b in found
    ]
    return pa.Table.from_pylist(rows, schema=_BREAKS)


def log_inputs(log: pa.Table, **known: Any) -> dict[str, pa.Table]:  # noqa: ANN401
    """What a relation over one log, without tasks and with the school's default limits, is built on."""
    return {
        "stored_samples": log,
        "stored_sessions": session(log, **known),
        "stored_tasks": NO_TASKS,
        "own_limits": NO_LIMITS,
    }


_WINDOWS = pa.schema(
    [
        ("maneuver_id", pa.string()),
        ("session_id", pa.string()),
        ("revision", pa.int32()),
        ("kind", pa.string()),
        ("basis", pa.string()),
        ("start_s", pa.float64()),
        ("end_s", pa.float64()),
        ("start_ms", pa.int32()),
        ("end_ms", pa.int32()),
        ("target_altitude_ft", pa.float64()),
        ("target_heading_deg", pa.float64()),
        ("flown_by", pa.string()),
        ("device_id", pa.string()),
        ("session_date", pa.date32()),
        ("median_step_s", pa.float64()),
        ("gap_limit_ms", pa.int32()),
    ]
)


def window(
    kind: str,
    start_s: float,
    end_s: float,
    altitude_ft: float | None = 3000.0,
    heading_deg: float | None = 90.0,
    maneuver_id: str = "m1",
) -> dict[str, Any]:
    """One row of `maneuver_windows` for session s1."""
    return {
        "maneuver_id": maneuver_id,
        "session_id": "s1",
        "revision": 1,
        "kind": kind,
        "basis": "assigned",
        "start_s": start_s,
        "end_s": end_s,
        "start_ms": round(start_s * 1000),
        "end_ms": round(end_s * 1000),
        "target_altitude_ft": altitude_ft,
        "target_heading_deg": heading_deg,
        "flown_by": "student",
        "device_id": "D1",
        "session_date": DAY,
        "median_step_s": 1.0,
        "gap_limit_ms": 2500,
    }


def windows(*rows: dict[str, Any]) -> pa.Table:
    """The relation `maneuver_windows` of the rows given."""
    return pa.Table.from_pylist(list(rows), schema=_WINDOWS)
