"""What a warehouse already knows: the newest revision of each session, the newest row of each
student and device.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.errors import StoreDamaged
from pipeline.land.papers import Paper, PaperRow
from pipeline.land.rows import DeviceRow, SessionRow, StudentRow
from pipeline.schema.tables import TASKS
from pipeline.store import Warehouse
from pipeline.store.absent import bring

PaperKind = TypeVar("PaperKind", StudentRow, DeviceRow)

_SESSION_COLUMNS = (
    "session_id",
    "revision",
    "student_id",
    "session_date",
    "started_at",
    "device_id",
    "aircraft_type",
    "instructor_id",
    "lesson",
    "air",
    "recorder",
    "log_name",
    "log_sha256",
    "row_sha256",
    "tasks_sha256",
    "time_column",
)


@dataclass(frozen=True)
class KnownSession:
    """The newest stored revision of a session, and what it was made of.

    `batch_id` names the files that hold it now, which compacting may have given another name than those
    that it came in.
    """

    row: SessionRow
    revision: int
    batch_id: str
    log_name: str
    log_sha256: str
    row_sha256: str
    tasks_sha256: str | None
    time_column: str


@dataclass(frozen=True)
class Known:
    """The state of a warehouse before a night."""

    sessions: Mapping[str, KnownSession] = field(default_factory=dict)
    students: Mapping[object, StudentRow] = field(default_factory=dict)
    devices: Mapping[object, DeviceRow] = field(default_factory=dict)
    last_batch: str | None = None


def read_known(warehouse: Warehouse) -> Known:
    """What committed batches hold. Raises StoreDamaged where one of their files cannot be read."""
    batches = warehouse.committed_batches()
    sessions: dict[str, KnownSession] = {}
    for path in warehouse.table_files("sessions"):
        for record in _records(path, _SESSION_COLUMNS):
            before = sessions.get(record["session_id"])
            if before is None or before.revision <= record["revision"]:
                sessions[record["session_id"]] = _known_session(record, path.stem)
    return Known(
        sessions,
        _newest(warehouse.table_files("roster"), StudentRow),
        _newest(warehouse.table_files("devices"), DeviceRow),
        batches[-1] if batches else None,
    )


def stored_samples(warehouse: Warehouse, session: KnownSession) -> pa.Table:
    """The samples of a session's newest revision."""
    path = warehouse.samples_path(session.row.session_date, session.batch_id)
    wanted = [
        ("session_id", "=", session.row.session_id),
        ("revision", "=", session.revision),
    ]
    bring([path])
    try:
        return pq.read_table(path, filters=wanted, partitioning=None)
    except (OSError, pa.ArrowException) as error:
        raise _damaged(path) from error


def stored_gates(warehouse: Warehouse, session: KnownSession) -> list[dict[str, Any]]:
    """What the data checks found when the session's newest revision was landed."""
    path = warehouse.table_path("sessions", session.batch_id)
    for record in _records(path, ("session_id", "revision", "gates")):
        if (record["session_id"], record["revision"]) == (session.row.session_id, session.revision):
            return list(record["gates"])
    raise _damaged(path)


def stored_tasks(warehouse: Warehouse, session: KnownSession) -> tuple[Paper, tuple[int, ...]]:
    """The tasks of a session's newest revision as a paper to be judged again, and their numbers."""
    file = f"tasks/{session.row.session_id}.csv"
    path = warehouse.table_path("tasks", session.batch_id)
    if not path.exists():
        return Paper(file, session.tasks_sha256 or ""), ()
    wanted = (session.row.session_id, session.revision)
    records = [
        record
        for record in _records(path, TASKS.names)
        if (record["session_id"], record["revision"]) == wanted
    ]
    numbers = tuple(record["task_no"] for record in records)
    rows = (
        PaperRow(n + 1, {name: str(value) for name, value in r.items() if value is not None})
        for n, r in zip(numbers, records, strict=True)
    )
    return Paper(file, session.tasks_sha256 or "", tuple(rows)), numbers


def _known_session(record: dict[str, Any], batch_id: str) -> KnownSession:
    return KnownSession(
        row=SessionRow(**{name: record[name] for name in SessionRow.__dataclass_fields__}),
        revision=record["revision"],
        batch_id=batch_id,
        log_name=record["log_name"],
        log_sha256=record["log_sha256"],
        row_sha256=record["row_sha256"],
        tasks_sha256=record["tasks_sha256"],
        time_column=record["time_column"],
    )


def _newest(paths: Iterable[Path], kind: type[PaperKind]) -> dict[object, PaperKind]:
    """The newest row of each key; `paths` come oldest first."""
    names = tuple(kind.__dataclass_fields__)
    rows = (kind(**record) for path in paths for record in _records(path, names))
    return {row.key: row for row in rows}


def _records(path: Path, columns: Sequence[str]) -> list[dict[str, Any]]:
    names = list(columns)
    try:
        with pq.ParquetFile(path) as file:  # a night opens all of them: this is the quicker way
            table = file.read(columns=names).select(names)
    except (OSError, pa.ArrowException, KeyError) as error:
        raise _damaged(path) from error
    return list(table.to_pylist())


def _damaged(path: Path) -> StoreDamaged:
    name = f"{path.parent.name}/{path.name}"
    return StoreDamaged(
        f"{name}: the file cannot be read; run `levelhold check` to see how to mend it"
    )
