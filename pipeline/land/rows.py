"""The rows of roster.csv, sessions.csv and devices.csv: each is taken or refused singly, with all
its faults.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Final, Generic, TypeVar

from pipeline.land.identifiers import fault_of_identifier
from pipeline.land.papers import Paper, PaperRow
from pipeline.land.row_reader import RowReader
from pipeline.reports import Reason, Refusal
from pipeline.schema.tables import AIRS, CONTROLS, DEVICE_CLASSES

CANONICAL: Final = "canonical"
"""The recorder whose logs hold the channels under their own names and units."""

ROSTER_COLUMNS: Final = ("student_id", "cohort", "start_date")
ROSTER_OPTIONAL: Final = ("stage", "left_on", "research_consent")
SESSION_COLUMNS: Final = ("session_id", "student_id", "started_at")
SESSION_OPTIONAL: Final = (
    "device_id",
    "aircraft_type",
    "instructor_id",
    "lesson",
    "air",
    "recorder",
)
DEVICE_COLUMNS: Final = ("device_id", "device_class", "control", "valid_from")


@dataclass(frozen=True)
class StudentRow:
    """One student as the roster names them."""

    student_id: str
    cohort: str
    start_date: date
    stage: str | None = None
    left_on: date | None = None
    research_consent: bool | None = None

    @property
    def key(self) -> str:
        """What makes two rows speak of the same thing."""
        return self.student_id


@dataclass(frozen=True)
class SessionRow:
    """One session as the school announced it; `started_at` is UTC."""

    session_id: str
    student_id: str
    started_at: datetime
    device_id: str | None = None
    aircraft_type: str | None = None
    instructor_id: str | None = None
    lesson: str | None = None
    air: str | None = None
    recorder: str = CANONICAL

    @property
    def key(self) -> str:
        """What makes two rows speak of the same thing."""
        return self.session_id

    @property
    def session_date(self) -> date:
        """The UTC date of the start."""
        return self.started_at.date()


@dataclass(frozen=True)
class DeviceRow:
    """What a device is from a day on (None: since ever)."""

    device_id: str
    device_class: str
    control: str
    valid_from: date | None = None

    @property
    def key(self) -> tuple[str, date | None]:
        """What makes two rows speak of the same thing."""
        return (self.device_id, self.valid_from)


KeyedRow = TypeVar("KeyedRow", StudentRow, SessionRow, DeviceRow)


def fingerprint(row: StudentRow | SessionRow | DeviceRow) -> str:
    """The SHA-256 of what a row says, the same however it was spelled in the file."""
    content = json.dumps(asdict(row), default=lambda value: value.isoformat(), sort_keys=True)
    return hashlib.sha256(content.encode()).hexdigest()


def student_row(reader: RowReader) -> StudentRow | None:
    """A row of the roster, or None where the reader found a fault."""
    student_id = reader.identifier("student_id", is_required=True)
    cohort = reader.identifier("cohort", is_required=True)
    start_date = reader.day("start_date", is_required=True)
    stage = reader.label("stage")
    left_on = reader.day("left_on")
    consent = reader.yes_or_no("research_consent")
    if start_date and left_on and left_on < start_date:
        reader.blame("left_on", "bad_order", "the student left before the start_date")
    if reader.reasons or not (student_id and cohort and start_date):
        return None
    return StudentRow(student_id, cohort, start_date, stage, left_on, consent)


def session_row(reader: RowReader) -> SessionRow | None:
    """A row of sessions.csv, or None where the reader found a fault."""
    session_id = reader.identifier("session_id", is_required=True)
    student_id = reader.identifier("student_id", is_required=True)
    started_at = reader.moment("started_at")
    device_id = reader.identifier("device_id")
    aircraft_type = reader.label("aircraft_type")
    instructor_id = reader.identifier("instructor_id")
    lesson = reader.label("lesson")
    air = reader.choice("air", AIRS)
    recorder = reader.identifier("recorder") or CANONICAL
    if reader.reasons or not (session_id and student_id and started_at):
        return None
    return SessionRow(
        session_id,
        student_id,
        started_at,
        device_id,
        aircraft_type,
        instructor_id,
        lesson,
        air,
        recorder,
    )


def device_row(reader: RowReader) -> DeviceRow | None:
    """A row of devices.csv, or None where the reader found a fault."""
    device_id = reader.identifier("device_id", is_required=True)
    device_class = reader.choice("device_class", DEVICE_CLASSES, is_required=True)
    control = reader.choice("control", CONTROLS, is_required=True)
    valid_from = reader.day("valid_from")
    if reader.reasons or not (device_id and device_class and control):
        return None
    return DeviceRow(device_id, device_class, control, valid_from)


@dataclass
class TakenRows(Generic[KeyedRow]):
    """The good rows of one paper by key, a refusal for every other, the session ids of refused
    rows.
    """

    rows: dict[object, KeyedRow] = field(default_factory=dict)
    refusals: list[Refusal] = field(default_factory=list)
    refused_sessions: set[str] = field(default_factory=set)


def take_rows(paper: Paper, parse: Callable[[RowReader], KeyedRow | None]) -> TakenRows[KeyedRow]:
    """Every row of `paper` parsed. A row that says again what another said is harmless; one that
    says something else about the same thing is refused, and the first is used.
    """
    taken: TakenRows[KeyedRow] = TakenRows()
    lines: dict[object, int] = {}
    for paper_row in paper.rows:
        reader = RowReader(paper.file, paper_row)
        row = parse(reader)
        if row is not None and taken.rows.setdefault(row.key, row) != row:
            said = f"line {lines[row.key]} says something else of the same {_key_column(row)}"
            reader.blame(_key_column(row), "said_twice", said)
        if row is not None:
            lines.setdefault(row.key, paper_row.line)
        if reader.reasons:
            _refuse(taken, paper, paper_row, reader.reasons)
    return taken


def _refuse(taken: TakenRows[KeyedRow], paper: Paper, row: PaperRow, reasons: list[Reason]) -> None:
    session_id = row.cells.get("session_id") or None
    if session_id is not None and fault_of_identifier(session_id) is not None:
        session_id = None
    taken.refusals.append(Refusal("row", paper.file, tuple(reasons), session_id))
    if session_id is not None:
        taken.refused_sessions.add(session_id)


def _key_column(row: StudentRow | SessionRow | DeviceRow) -> str:
    return {StudentRow: "student_id", SessionRow: "session_id", DeviceRow: "device_id"}[type(row)]
