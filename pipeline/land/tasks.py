"""What the student was asked to do: each task is taken or refused singly."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from pipeline.land.papers import Paper
from pipeline.land.row_reader import RowReader
from pipeline.reports import Reason, Refusal
from pipeline.schema.channels import CHANNEL_BY_NAME
from pipeline.schema.tables import FLOWN_BY, MANEUVER_KINDS

TASK_COLUMNS: Final = ("start_s", "end_s", "kind")
TASK_OPTIONAL: Final = ("target_altitude_ft", "target_heading_deg", "flown_by")

OUTSIDE_S: Final = 2.0 + 1e-6
"""A task may reach this far past either end of the log; it is clipped (a microsecond more forgives
rounding).
"""

_ANY_TIME: Final = 1e6


@dataclass(frozen=True)
class Task:
    """One assignment; seconds from the session's start, headings in [0, 360)."""

    task_no: int
    line: int
    start_s: float
    end_s: float
    kind: str
    target_altitude_ft: float | None
    target_heading_deg: float | None
    flown_by: str


@dataclass(frozen=True)
class TaskList:
    """The tasks of one session that can be scored, a refusal per other one, and what was
    clipped.
    """

    tasks: tuple[Task, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    clipped: tuple[int, ...] = ()


def take_tasks(
    paper: Paper,
    session_id: str,
    first_s: float,
    last_s: float,
    numbers: Sequence[int] | None = None,
) -> TaskList:
    """The tasks of a session whose log runs from first_s to last_s; numbered by row unless
    `numbers` says.
    """
    readers = [RowReader(paper.file, row) for row in paper.rows]
    named = range(1, len(readers) + 1) if numbers is None else numbers
    parsed = [_parse(number, reader) for number, reader in zip(named, readers, strict=True)]
    clipped: list[int] = []
    inside = [
        (_inside(task, reader, first_s, last_s, clipped), reader)
        for task, reader in zip(parsed, readers, strict=True)
        if task is not None
    ]
    kept = _without_overlaps([(task, reader) for task, reader in inside if task is not None])
    refusals = tuple(_refusal(paper, session_id, r.reasons) for r in readers if r.reasons)
    return TaskList(kept, refusals, tuple(clipped))


def _refusal(paper: Paper, session_id: str, reasons: Sequence[Reason]) -> Refusal:
    return Refusal("task", paper.file, tuple(reasons), session_id)


def _parse(number: int, reader: RowReader) -> Task | None:
    start_s = reader.number("start_s", -_ANY_TIME, _ANY_TIME, is_required=True)
    end_s = reader.number("end_s", -_ANY_TIME, _ANY_TIME, is_required=True)
    kind = reader.choice("kind", MANEUVER_KINDS, is_required=True)
    altitude = _target(reader, "target_altitude_ft", "altitude_ft")
    heading = _target(reader, "target_heading_deg", "heading_deg")
    flown_by = reader.choice("flown_by", FLOWN_BY) or FLOWN_BY[0]
    if start_s is not None and end_s is not None and end_s <= start_s:
        reader.blame(
            "end_s", "end_before_start", f"the task ends at {end_s:g} s, not after its start"
        )
    if reader.reasons or start_s is None or end_s is None or kind is None:
        return None
    turned = None if heading is None else heading % 360.0 % 360.0
    return Task(number, reader.row.line, start_s, end_s, kind, altitude, turned, flown_by)


def _target(reader: RowReader, column: str, channel: str) -> float | None:
    limits = CHANNEL_BY_NAME[channel]
    return reader.number(column, limits.low or 0.0, limits.high or 0.0)


def _inside(
    task: Task, reader: RowReader, first_s: float, last_s: float, clipped: list[int]
) -> Task | None:
    """The task within the log, or None with a fault where it reaches too far past either end."""
    is_early = task.start_s < first_s - OUTSIDE_S
    if is_early or task.end_s > last_s + OUTSIDE_S:
        column = "start_s" if is_early else "end_s"
        said = (
            f"the task ({task.start_s:g} to {task.end_s:g} s) lies outside the log, "
            f"which runs from {first_s:g} to {last_s:g} s"
        )
        reader.blame(column, "outside_log", said)
        return None
    within = replace(task, start_s=max(task.start_s, first_s), end_s=min(task.end_s, last_s))
    if within.end_s <= within.start_s:
        said = f"nothing of the task lies in the log, which runs from {first_s:g} to {last_s:g} s"
        reader.blame("start_s", "outside_log", said)
        return None
    if within != task:
        clipped.append(task.task_no)
    return within


def _without_overlaps(tasks: Sequence[tuple[Task, RowReader]]) -> tuple[Task, ...]:
    """Of two tasks that overlap the later one is refused; touching is no overlap."""
    kept: list[Task] = []
    for task, reader in sorted(tasks, key=lambda pair: (pair[0].start_s, pair[0].task_no)):
        if kept and task.start_s < kept[-1].end_s:
            said = (
                f"the task ({task.start_s:g} to {task.end_s:g} s) overlaps the one in line "
                f"{kept[-1].line}, which ends at {kept[-1].end_s:g} s"
            )
            reader.blame("start_s", "overlap", said)
        else:
            kept.append(task)
    return tuple(sorted(kept, key=lambda task: task.task_no))
