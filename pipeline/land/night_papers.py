"""The roster, the sessions and the devices as one night sees them: the inbox's rows over the
store's.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from pipeline.land.faults import RefusedFile, make_reason
from pipeline.land.inbox import Inbox
from pipeline.land.known import Known
from pipeline.land.log_bytes import read_bytes
from pipeline.land.papers import Paper, read_paper
from pipeline.land.row_reader import RowReader
from pipeline.land.rows import (
    DEVICE_COLUMNS,
    ROSTER_COLUMNS,
    ROSTER_OPTIONAL,
    SESSION_COLUMNS,
    SESSION_OPTIONAL,
    DeviceRow,
    KeyedRow,
    SessionRow,
    StudentRow,
    TakenRows,
    device_row,
    fingerprint,
    session_row,
    student_row,
    take_rows,
)
from pipeline.reports import Refusal
from pipeline.settings import Landing
from pipeline.store import Forgotten

_EXPECTED: Final = ("device_id", "aircraft_type", "instructor_id", "lesson")


@dataclass
class Papers:
    """Who is known tonight, which sessions are announced, and what was refused or worth saying.

    `new_students` and `new_devices` are the rows that say something the store does not know.
    """

    students: Mapping[object, StudentRow]
    devices: Mapping[object, DeviceRow]
    sessions: Mapping[object, SessionRow]
    new_students: list[StudentRow]
    new_devices: list[DeviceRow]
    refused_sessions: set[str]
    forgotten_sessions: set[str] = field(default_factory=set)
    refusals: list[Refusal] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


@dataclass
class _Desk:
    """What the reading of all papers adds up to."""

    inbox: Inbox
    limits: Landing
    forgotten_sessions: set[str] = field(default_factory=set)
    passed_over: int = 0
    refusals: list[Refusal] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def read(
        self,
        file: str,
        required: Sequence[str],
        optional: Sequence[str],
        parse: Callable[[RowReader], KeyedRow | None],
    ) -> TakenRows[KeyedRow]:
        """The rows of one paper; none where it is not there or refused as a whole."""
        try:
            path = self.inbox.paper(file)
            if path is None:
                return TakenRows()
            content = read_bytes(path, file, self.limits.max_paper_mb, "max_paper_mb")
            paper = read_paper(content, file, required, optional, self.limits.max_paper_rows)
        except OSError as error:
            said = f"the file cannot be opened ({error.strerror})"
            reason = make_reason("unreadable", file, said, "make it readable for this program")
            self.refusals.append(Refusal("file", file, (reason,)))
            return TakenRows()
        except RefusedFile as refused:
            self.refusals.append(Refusal("file", file, refused.reasons))
            return TakenRows()
        paper = self._without_forgotten(paper)
        self.ignored += [f"{file}: {name}" for name in paper.ignored]
        lacking = [name for name in paper.absent if name in _EXPECTED]
        if lacking:
            names = ", ".join(lacking)
            self.warnings.append(f"{file}: there is no column {names}; it is unknown for every row")
        taken: TakenRows[KeyedRow] = take_rows(paper, parse)
        self.refusals += taken.refusals
        return taken

    def _without_forgotten(self, paper: Paper) -> Paper:
        """The paper without the rows that name a forgotten student or session."""
        forgotten = self.inbox.forgotten
        if not forgotten:
            return paper
        is_gone = [names_forgotten(row.cells, forgotten) for row in paper.rows]
        pairs = list(zip(paper.rows, is_gone, strict=True))
        gone = {row.cells.get("session_id", "") for row, is_so in pairs if is_so}
        self.forgotten_sessions |= gone
        self.passed_over += sum(is_gone)
        return replace(paper, rows=tuple(row for row, is_so in pairs if not is_so))


def names_forgotten(cells: Mapping[str, str], forgotten: Forgotten) -> bool:
    """Whether a row of a paper names someone who was forgotten."""
    keys = {"student": cells.get("student_id", ""), "session": cells.get("session_id", "")}
    return any(forgotten.holds(kind, word) for kind, word in keys.items())


def read_papers(inbox: Inbox, known: Known, limits: Landing) -> Papers:
    """The three papers of the inbox, each optional, over what the store already knows."""
    desk = _Desk(inbox, limits)
    roster = desk.read("roster.csv", ROSTER_COLUMNS, ROSTER_OPTIONAL, student_row)
    sessions = desk.read("sessions.csv", SESSION_COLUMNS, SESSION_OPTIONAL, session_row)
    devices = desk.read("devices.csv", DEVICE_COLUMNS, (), device_row)
    if desk.passed_over:
        desk.warnings.append(
            f"inbox: {desk.passed_over} rows of forgotten students or sessions were passed over"
        )
    return Papers(
        students={**known.students, **roster.rows},
        devices={**known.devices, **devices.rows},
        sessions=sessions.rows,
        new_students=[r for key, r in roster.rows.items() if known.students.get(key) != r],
        new_devices=[r for key, r in devices.rows.items() if known.devices.get(key) != r],
        refused_sessions=sessions.refused_sessions,
        forgotten_sessions=desk.forgotten_sessions - known.sessions.keys() - {""},
        refusals=desk.refusals,
        ignored=desk.ignored,
        warnings=desk.warnings,
    )


def records_of(rows: Sequence[StudentRow] | Sequence[DeviceRow]) -> list[dict[str, Any]]:
    """Rows as stored, but for the batch id."""
    return [{**vars(row), "row_sha256": fingerprint(row)} for row in rows]
