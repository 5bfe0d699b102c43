"""Inboxes made for a test: a good one, and the means to spoil it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq

from pipeline.land import land_inbox
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store import Warehouse

NOW = datetime(2026, 3, 28, 20, tzinfo=UTC)
ROSTER = "student_id,cohort,start_date,stage\nTH01,2026A,2026-02-01,early\nTH02,2026A,2026-02-01,\n"
SESSION_HEADING = "session_id,student_id,started_at,device_id,aircraft_type,instructor_id,lesson\n"
TASKS = "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n0,10,level,4000,90\n"


def log_text(count: int = 200, **columns: Sequence[Any] | None) -> str:
    """A clean log of `count` rows at 4 Hz; a keyword replaces a column or (None) drops it."""
    cells: dict[str, Sequence[Any] | None] = {
        "time_s": [i / 4 for i in range(count)],
        "altitude_ft": [4000 + i % 7 for i in range(count)],
        "heading_deg": [90 + i % 3 for i in range(count)],
        "vertical_speed_fpm": [i % 11 - 5 for i in range(count)],
    }
    cells |= columns
    kept = {name: column for name, column in cells.items() if column is not None}
    rows = zip(*kept.values(), strict=True)
    lines = [",".join(kept), *(",".join(str(cell) for cell in row) for row in rows)]
    return "\n".join(lines) + "\n"


def session_line(
    session_id: str, student_id: str = "TH01", started_at: str = "2026-03-14T09:00:00+00:00"
) -> str:
    """A row of sessions.csv."""
    return f"{session_id},{student_id},{started_at},SIM-1,trainer,IN1,straight and level\n"


@dataclass(frozen=True)
class School:
    """A folder with an inbox and a warehouse; `night` lands what is there."""

    root: Path

    @property
    def inbox(self) -> Path:
        return self.root / "inbox"

    @property
    def store(self) -> Warehouse:
        return Warehouse(self.root / "warehouse")

    def put(self, file: str, content: str | bytes) -> Path:
        path = self.inbox / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def sessions(self, *lines: str, heading: str = SESSION_HEADING) -> None:
        self.put("sessions.csv", heading + "".join(lines))

    def night(self, now: datetime = NOW, settings: Settings | None = None) -> LandReport:
        return land_inbox(self.inbox, self.store, settings or Settings(), now)

    def rows(self, kind: str) -> list[dict[str, Any]]:
        """Every stored row of sessions, tasks, roster or devices, oldest batch first."""
        tables = (pq.read_table(p, partitioning=None) for p in self.store.table_files(kind))
        return [row for table in tables for row in table.to_pylist()]

    def session(self, session_id: str = "S1") -> dict[str, Any]:
        """The newest revision of a session."""
        found = [row for row in self.rows("sessions") if row["session_id"] == session_id]
        return max(found, key=lambda row: row["revision"])

    def samples(self, session_id: str = "S1") -> list[dict[str, Any]]:
        """The samples of a session's newest revision."""
        newest = self.session(session_id)["revision"]
        tables = (pq.read_table(p, partitioning=None) for p in self.store.sample_files())
        rows = (row for table in tables for row in table.to_pylist())
        return [r for r in rows if (r["session_id"], r["revision"]) == (session_id, newest)]

    def content(self) -> Mapping[str, bytes]:
        """Every file of the warehouse but the locks and what landing remembers."""
        files = (p for p in self.store.root.rglob("*") if p.is_file())
        skipped = {self.store.lock_file, self.store.memory_file, self.store.readers_file}
        return {str(p.relative_to(self.root)): p.read_bytes() for p in files if p not in skipped}


def school_with(root: Path, *session_ids: str, text: str | None = None) -> School:
    """A school whose inbox announces and holds these sessions, all good."""
    school = School(root)
    school.put("roster.csv", ROSTER)
    school.sessions(*(session_line(session_id) for session_id in session_ids))
    for session_id in session_ids:
        school.put(f"logs/{session_id}.csv", text or log_text())
    return school


def gates_of(session: Mapping[str, Any]) -> dict[tuple[str, str | None], Mapping[str, Any]]:
    """The gates of a session row by check and channel."""
    return {(gate["gate"], gate["channel"]): gate for gate in session["gates"]}


def rules_of(report: LandReport) -> list[str]:
    """The rules that were broken, in the report's order."""
    return [reason.rule for refusal in report.refusals for reason in refusal.reasons]
