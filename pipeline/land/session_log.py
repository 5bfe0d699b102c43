"""From one inbox file, or from what is stored, to a session's rows: the work that one session
costs.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pipeline.land.checks import check_samples
from pipeline.land.checks.track import GAP_STEPS, LEAST_GAP_S
from pipeline.land.gates import Gate, distinct
from pipeline.land.known import KnownSession, stored_gates, stored_samples
from pipeline.land.log_bytes import unpack
from pipeline.land.log_check import CleanLog, check_log
from pipeline.land.log_csv import read_csv_log
from pipeline.land.log_parquet import read_parquet_log
from pipeline.land.profiles import Profile, profile_gates, read_with_profile
from pipeline.land.rows import SessionRow, StudentRow
from pipeline.land.tasks import TaskList
from pipeline.schema.channels import CHANNELS, CLOCK_COLUMN
from pipeline.settings import Landing
from pipeline.store import Warehouse

ROW_GATES = frozenset({"started_in_future", "before_student_start", "clock_disagrees"})
CLOCK_OFF_S = 900.0
"""Ours: a log that begins further from its session's start than a quarter of an hour."""

TASK_GATES = frozenset({"tasks_refused", "tasks_clipped"})
"""Gates that come from the session's row and from its tasks, not from its log."""


def read_log(
    content: bytes,
    file: str,
    ending: str,
    row: SessionRow,
    limits: Landing,
    profile: Profile | None = None,
) -> CleanLog:
    """The clean samples in a log's bytes, read by its recorder's profile (None: canonical).

    Raises RefusedFile with every reason against it.
    """
    plain = unpack(content, file, limits.max_log_mb) if ending == ".csv.gz" else content
    if profile is not None:
        cells, times, absent = read_with_profile(plain, file, profile, row.started_at, limits)
        log = check_log(cells, file, row.started_at, times)
        found = profile_gates(profile, row.recorder, absent, len(log.t_ms))
        log = replace(log, gates=(*log.gates, *found))
    elif ending == ".parquet":
        cells = read_parquet_log(plain, file, limits.max_columns, limits.max_log_mb)
        log = check_log(cells, file, row.started_at)
    else:
        log = check_log(read_csv_log(plain, file, limits.max_columns), file, row.started_at)
    checked = check_samples(log.t_ms, log.values)
    return replace(log, values=checked.values, gates=(*log.gates, *checked.gates))


def stored_log(warehouse: Warehouse, known: KnownSession, row: SessionRow) -> CleanLog:
    """The samples of a session as they were landed, for a log that is no longer in the inbox.

    Where the log told the time of day, a corrected start moves its samples.
    """
    table = stored_samples(warehouse, known)
    t_ms = table.column("t_ms").to_numpy()
    moved = (known.row.started_at - row.started_at) // timedelta(milliseconds=1)
    shift = moved if known.time_column == CLOCK_COLUMN else 0
    values = {}
    for channel in CHANNELS:
        column = table.column(channel.name)
        if column.null_count < len(column):
            values[channel.name] = column.cast("float32").to_numpy()
    gates = (Gate(**gate) for gate in stored_gates(warehouse, known))
    others = ROW_GATES | TASK_GATES
    kept = tuple(_shifted(g, shift / 1000) for g in gates if g.gate not in others)
    return CleanLog((t_ms + shift).astype(np.int32), values, known.time_column, (), kept)


def _shifted(gate: Gate, seconds: float) -> Gate:
    if gate.from_s is None or gate.to_s is None:
        return gate
    return replace(gate, from_s=gate.from_s + seconds, to_s=gate.to_s + seconds)


@dataclass(frozen=True)
class Sources:
    """The files that a session was made of and their fingerprints."""

    log_name: str
    log_sha256: str
    row_sha256: str
    tasks_sha256: str | None


def session_record(
    row: SessionRow, revision: int, log: CleanLog, sources: Sources, gates: tuple[Gate, ...]
) -> dict[str, Any]:
    """The session's row as stored, but for the batch id."""
    steps = np.diff(log.t_ms) / 1000.0
    median = float(np.median(steps)) if len(steps) else None
    gap_limit = LEAST_GAP_S if median is None else max(LEAST_GAP_S, GAP_STEPS * median)
    return {
        **{name: getattr(row, name) for name in SessionRow.__dataclass_fields__},
        "revision": revision,
        "session_date": row.session_date,
        "duration_s": float(log.t_ms[-1] - log.t_ms[0]) / 1000.0,
        "sample_count": len(log.t_ms),
        "median_step_s": median,
        "gap_limit_s": gap_limit,
        "observed_s": round(float(steps[steps <= gap_limit].sum()), 3),
        "log_name": sources.log_name,
        "log_sha256": sources.log_sha256,
        "row_sha256": sources.row_sha256,
        "tasks_sha256": sources.tasks_sha256,
        "channels": list(log.channels),
        "sparse_channels": list(log.sparse_channels),
        "gates": [gate.as_dict() for gate in distinct((*log.gates, *gates))],
        "time_column": log.time_column,
    }


def task_records(tasks: TaskList, session_id: str, revision: int) -> list[dict[str, Any]]:
    """The tasks as stored."""
    return [
        {
            "session_id": session_id,
            "revision": revision,
            "task_no": task.task_no,
            "start_s": task.start_s,
            "end_s": task.end_s,
            "kind": task.kind,
            "target_altitude_ft": task.target_altitude_ft,
            "target_heading_deg": task.target_heading_deg,
            "flown_by": task.flown_by,
        }
        for task in tasks.tasks
    ]


def task_gates(tasks: TaskList) -> tuple[Gate, ...]:
    """What became of the tasks that were not taken as they stood."""
    gates = []
    if tasks.refusals:
        said = "; ".join(reason.sentence for r in tasks.refusals for reason in r.reasons)
        gates.append(Gate("tasks_refused", "warning", None, len(tasks.refusals), None, None, said))
    if tasks.clipped:
        numbers = ", ".join(str(number) for number in tasks.clipped)
        said = f"the log ends or begins within task {numbers}, which was clipped to it"
        gates.append(Gate("tasks_clipped", "note", None, len(tasks.clipped), None, None, said))
    return tuple(gates)


def stored_task_gates(warehouse: Warehouse, known: KnownSession) -> tuple[Gate, ...]:
    """What became of a session's tasks when they were landed, for a task list that left the inbox."""
    gates = (Gate(**gate) for gate in stored_gates(warehouse, known))
    return tuple(gate for gate in gates if gate.gate in TASK_GATES)


def row_gates(row: SessionRow, student: StudentRow, now: datetime) -> tuple[Gate, ...]:
    """What is odd about when the session is said to have been flown."""
    gates = []
    if row.started_at > now:
        said = f"started_at {row.started_at.isoformat()} lies in the future"
        gates.append(Gate("started_in_future", "warning", None, 0, None, None, said))
    start = student.start_date
    if row.session_date < start:
        said = f"flown on {row.session_date}, before the student's start_date {start}"
        gates.append(Gate("before_student_start", "warning", None, 0, None, None, said))
    return tuple(gates)


def clock_gates(log: CleanLog) -> tuple[Gate, ...]:
    """Whether the log's first sample lies far from the session's start: the tasks, which count from
    there, would be looked for in the wrong place.
    """
    first_s = float(log.t_ms[0]) / 1000.0
    if abs(first_s) <= CLOCK_OFF_S:
        return ()
    way = "after" if first_s > 0 else "before"
    said = f"the log begins {abs(first_s) / 60:.0f} min {way} the session's start"
    hours = abs(first_s) / 3600.0
    if round(hours) and abs(hours - round(hours)) * 3600.0 <= 120:
        said += ", a whole number of hours: a time zone may be wrong"
    return (Gate("clock_disagrees", "warning", None, len(log.t_ms), first_s, first_s, said),)
