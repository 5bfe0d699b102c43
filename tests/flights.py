"""Invented logs as the store's tables: what tests feed to the SQL and to the reference alike."""

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

import duckdb
import pyarrow as pa

from pipeline.relations import bind_table, build, connect
from pipeline.schema.channels import CHANNELS
from pipeline.schema.tables import TABLES

Value = float | bool | None

DAY = date(2026, 3, 14)


@dataclass(frozen=True)
class Task:
    """What was asked for, from when to when (seconds of the session)."""

    start_s: float
    end_s: float
    kind: str = "level"
    target_altitude_ft: float | None = 4000.0
    target_heading_deg: float | None = 90.0
    flown_by: str = "student"


@dataclass(frozen=True)
class Log:
    """One revision of one session: times in milliseconds, per channel a value (or None) at each."""

    t_ms: Sequence[int]
    values: Mapping[str, Sequence[Value]]
    tasks: Sequence[Task] = ()
    session_id: str = "S1"
    revision: int = 1
    student_id: str = "TH01"
    session_date: date = DAY
    device_id: str | None = "SIM-1"
    batch_id: str = "b20260315T020000Z-000001"
    gates: Sequence[Mapping[str, Any]] = field(default_factory=tuple)

    def __repr__(self) -> str:
        """Short enough to read: what was recorded, not the samples."""
        steps = f"{len(self.t_ms)} samples, {self.t_ms[0]}..{self.t_ms[-1]} ms" if self.t_ms else ""
        said = f"{self.session_id}.{self.revision} {self.student_id} {self.device_id}"
        return f"Log({said} {steps} of {self.channels}, {list(self.tasks)})"

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:  # noqa: ANN401 (hypothesis')
        """How hypothesis shows it."""
        del cycle
        printer.text(repr(self))

    @property
    def channels(self) -> list[str]:
        """The channels with any value."""
        return [n for n, v in self.values.items() if any(x is not None for x in v)]

    @property
    def sparse_channels(self) -> list[str]:
        """The channels with a value at fewer than 95 % of the log's times, as landing tells them."""
        least = 0.95 * len(self.t_ms)
        return [n for n in self.channels if sum(x is not None for x in self.values[n]) < least]

    @property
    def median_step_s(self) -> float | None:
        """The median time between neighbouring samples."""
        steps = [b - a for a, b in zip(self.t_ms, self.t_ms[1:], strict=False)]
        return statistics.median(steps) / 1000 if steps else None


def stored_tables(
    logs: Sequence[Log],
    devices: Sequence[Mapping[str, Any]] = (),
    reviews: Sequence[Mapping[str, Any]] = (),
) -> dict[str, pa.Table]:
    """The stored tables (`stored_samples`, ...) that hold these logs, samples by session and time."""
    ordered = sorted(logs, key=lambda log: (log.session_id, log.revision))
    students = sorted({log.student_id for log in logs})
    content = {
        "sessions": [_session_row(log) for log in ordered],
        "tasks": [row for log in ordered for row in _task_rows(log)],
        "roster": [_roster_row(student) for student in students],
        "devices": [_device_row(device) for device in devices],
        "reviews": [_review_row(i, review) for i, review in enumerate(reviews)],
    }
    tables = {f"stored_{k}": pa.Table.from_pylist(r, schema=TABLES[k]) for k, r in content.items()}
    samples = [_samples(log) for log in ordered]
    return {**tables, "stored_samples": pa.concat_tables(samples, promote_options="none")}


def connection_over(
    tables: Mapping[str, pa.Table], names: Sequence[str], **bound: pa.Table
) -> duckdb.DuckDBPyConnection:
    """A connection in which `names` are built from SQL over stored tables (and other relations bound)."""
    con = connect()
    everything = {**tables, **bound}
    for name, content in everything.items():
        bind_table(con, name, content)
    build(con, names, everything)
    return con


def rows_by(
    con: duckdb.DuckDBPyConnection, name: str, *keys: str
) -> dict[tuple[Any, ...], dict[str, Any]]:
    """A relation's rows by their keys. Fails when two rows have the same."""
    rows = con.sql(f"FROM {name}").to_arrow_table().to_pylist()
    found = {tuple(row[k] for k in keys): row for row in rows}
    assert len(found) == len(rows), f"{name}: {keys} is no key"
    return found


def _samples(log: Log) -> pa.Table:
    count = len(log.t_ms)
    columns = {
        "session_id": pa.array([log.session_id] * count, pa.string()),
        "revision": pa.array([log.revision] * count, pa.int32()),
        "t_ms": pa.array(log.t_ms, pa.int32()),
    }
    for channel in CHANNELS:
        given = log.values.get(channel.name, [None] * count)
        columns[channel.name] = pa.array(given, channel.arrow_type)
    return pa.table(columns, schema=TABLES["samples"])


def _session_row(log: Log) -> dict[str, Any]:
    median = log.median_step_s
    steps = [(b - a) / 1000 for a, b in zip(log.t_ms, log.t_ms[1:], strict=False)]
    gap_limit = 1.5 if median is None else max(1.5, 2.5 * median)
    started_at = datetime(
        log.session_date.year, log.session_date.month, log.session_date.day, 9, tzinfo=UTC
    )
    return {
        "session_id": log.session_id,
        "revision": log.revision,
        "batch_id": log.batch_id,
        "student_id": log.student_id,
        "session_date": log.session_date,
        "started_at": started_at,
        "device_id": log.device_id,
        "recorder": "canonical",
        "duration_s": (log.t_ms[-1] - log.t_ms[0]) / 1000 if log.t_ms else 0.0,
        "sample_count": len(log.t_ms),
        "median_step_s": median,
        "gap_limit_s": gap_limit,
        "observed_s": sum(step for step in steps if step <= gap_limit),
        "log_name": f"logs/{log.session_id}.csv",
        "log_sha256": "0" * 64,
        "row_sha256": "0" * 64,
        "channels": log.channels,
        "sparse_channels": log.sparse_channels,
        "gates": [dict(gate) for gate in log.gates],
        "time_column": "time_s",
    }


def _task_rows(log: Log) -> list[dict[str, Any]]:
    return [
        {
            "session_id": log.session_id,
            "revision": log.revision,
            "task_no": i + 1,
            "start_s": task.start_s,
            "end_s": task.end_s,
            "kind": task.kind,
            "target_altitude_ft": task.target_altitude_ft,
            "target_heading_deg": task.target_heading_deg,
            "flown_by": task.flown_by,
        }
        for i, task in enumerate(log.tasks)
    ]


def _roster_row(student_id: str) -> dict[str, Any]:
    return {
        "student_id": student_id,
        "cohort": "spring",
        "start_date": date(2026, 1, 5),
        "row_sha256": "0" * 64,
        "batch_id": "b20260101T020000Z-000000",
    }


def _device_row(device: Mapping[str, Any]) -> dict[str, Any]:
    usual = {
        "device_class": "simulator",
        "control": "centring",
        "valid_from": None,
        "row_sha256": "0" * 64,
        "batch_id": "b20260101T020000Z-000000",
    }
    return {**usual, **device}


def _review_row(number: int, review: Mapping[str, Any]) -> dict[str, Any]:
    usual = {"review_id": f"r{number}", "made_at": datetime(2026, 3, 15, 8, tzinfo=UTC)}
    return {**usual, **review}
