"""Writing what one night brought as one batch: samples first, then the small tables, the sessions
last.
"""

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from pipeline.schema.tables import DEVICES, ROSTER, SAMPLES, SESSIONS, TASKS
from pipeline.store import AsideParquet, Warehouse, digest_of, seal, write_parquet

_STAMP: Final = "b%Y%m%dT%H%M%SZ"


def next_batch_id(now: datetime, last_batch: str | None, content: Sequence[str]) -> str:
    """An id that sorts after every earlier batch, even where the clock went back; `content` tells
    it apart.
    """
    stamp = now.astimezone(UTC).replace(microsecond=0)
    if last_batch is not None:
        last = datetime.strptime(last_batch.partition("-")[0], _STAMP).replace(tzinfo=UTC)
        stamp = max(stamp, last + timedelta(seconds=1))
    digest = hashlib.sha256("\n".join(content).encode()).hexdigest()
    return f"{stamp.strftime(_STAMP)}-{digest[:6]}"


@dataclass
class Batch:
    """A batch being written. Sessions are added in the order of their dates; nothing counts before
    `commit`.

    To be used in a `with` block: leaving it without a commit removes what is half written. Files
    that are whole already are swept by the next run.
    """

    warehouse: Warehouse
    batch_id: str
    _sessions: list[dict[str, Any]] = field(default_factory=list)
    _tasks: list[dict[str, Any]] = field(default_factory=list)
    _digests: dict[str, str] = field(default_factory=dict)
    _open: AsideParquet | None = None
    _open_logs: dict[str, str] = field(default_factory=dict)
    _stack: ExitStack = field(default_factory=ExitStack)

    def __enter__(self) -> "Batch":
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def add(
        self, session: dict[str, Any], samples: pa.Table, tasks: Sequence[dict[str, Any]]
    ) -> None:
        """One session: its row, its samples as one row group, its tasks."""
        path = self.warehouse.samples_path(session["session_date"], self.batch_id)
        if self._open is None or self._open.path != path:
            self._finish_samples()
            self._open = self._stack.enter_context(AsideParquet(path, SAMPLES))
        self._open.write(samples)
        self._open_logs[session["session_id"]] = session["log_sha256"]
        self._sessions.append({**session, "batch_id": self.batch_id})
        self._tasks.extend(tasks)

    def commit(self, roster: Sequence[dict[str, Any]], devices: Sequence[dict[str, Any]]) -> None:
        """Make the batch real: the file in sessions/ comes last and holds the digest of every other
        file.
        """
        self._finish_samples()
        self._write_rows("tasks", self._tasks, TASKS)
        self._write_rows("roster", [{**r, "batch_id": self.batch_id} for r in roster], ROSTER)
        self._write_rows("devices", [{**r, "batch_id": self.batch_id} for r in devices], DEVICES)
        logs = {s["session_id"]: s["log_sha256"] for s in self._sessions}
        metadata = self._metadata("sessions", logs) | {"files": self._digests}
        table = pa.Table.from_pylist(self._sessions, schema=SESSIONS)
        write_parquet(table, self.warehouse.table_path("sessions", self.batch_id), metadata)
        seal(self.warehouse, self.batch_id)

    def _finish_samples(self) -> None:
        if self._open is not None:
            self._open.commit(self._metadata("samples", self._open_logs))
            self._note(self._open.path)
        self._open, self._open_logs = None, {}

    def _write_rows(self, kind: str, rows: Sequence[dict[str, Any]], schema: pa.Schema) -> None:
        if rows:
            path = self.warehouse.table_path(kind, self.batch_id)
            table = pa.Table.from_pylist(list(rows), schema=schema)
            write_parquet(table, path, self._metadata(kind, {}))
            self._note(path)

    def _metadata(self, kind: str, fingerprints: dict[str, str]) -> dict[str, Any]:
        return {"kind": kind, "batch_id": self.batch_id, "fingerprints": dict(fingerprints)}

    def _note(self, path: Path) -> None:
        self._digests[path.relative_to(self.warehouse.root).as_posix()] = digest_of(path)


def samples_table(
    session_id: str,
    revision: int,
    t_ms: NDArray[np.int32],
    values: Mapping[str, NDArray[np.float32]],
) -> pa.Table:
    """The samples of one session as stored: every channel is there, those not recorded all NULL."""
    count = len(t_ms)
    keys = [
        pa.repeat(pa.scalar(session_id, pa.string()), count),
        pa.repeat(pa.scalar(revision, pa.int32()), count),
        pa.array(t_ms, pa.int32()),
    ]
    channels = [_column(values.get(f.name), f.type, count) for f in list(SAMPLES)[len(keys) :]]
    return pa.Table.from_arrays([*keys, *channels], schema=SAMPLES)


def _column(values: NDArray[np.float32] | None, kind: pa.DataType, count: int) -> pa.Array:
    if values is None:
        return pa.nulls(count, kind)
    if pa.types.is_boolean(kind):
        return pa.array(values == 1, kind, mask=np.isnan(values))
    return pa.array(values, kind, from_pandas=True)
