"""One night, in order: land, measure, tell who needs work, write the pages; and leave a run report."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import perf_counter
from typing import Any

from pipeline import __version__
from pipeline.land import land_inbox
from pipeline.measure import measure_warehouse
from pipeline.pages import write_pages
from pipeline.reading import definitions, open_warehouse
from pipeline.reports import LandReport, Outcome, WorkReport
from pipeline.settings import Settings
from pipeline.store import Warehouse, hold_lock, write_bytes

Progress = Callable[[str], None]


@dataclass(frozen=True)
class FlagLine:
    """One standing flag, as the night's summary tells it."""

    student_id: str
    aspect: str
    since_date: date
    is_new: bool
    reason: str


@dataclass(frozen=True)
class NightReport:
    """What one night did: its parts' reports, the flags that stand, where the pages are."""

    run_id: str
    started_at: datetime
    ended_at: datetime
    landed: LandReport
    measured: WorkReport
    flags: tuple[FlagLine, ...]
    cleared: tuple[str, ...]
    pages: Path
    took_s: dict[str, float]

    @property
    def exit_code(self) -> int:
        """0 done; 3 done, but some input was refused in this run."""
        return 3 if self.landed.new_refusals else 0


def run_night(
    inbox: Path,
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    *,
    workers: int = 1,
    progress: Progress = lambda stage: None,
) -> NightReport:
    """Land what is new, measure what is new or stale, write the pages and the run report.

    `now` carries a zone; it names the run and stamps what landed. Safe to run twice and safe to
    kill: the next run finds a whole batch or none of it. Raises LockHeld where another run is at
    work, and what its parts raise; one bad input file raises nothing, it is refused in the report.
    """
    took: dict[str, float] = {}
    clock = perf_counter()

    def done(stage: str) -> None:
        nonlocal clock
        took[stage] = round(perf_counter() - clock, 3)
        clock = perf_counter()

    with hold_lock(warehouse, "nightly", now):
        progress("land")
        landed = land_inbox(inbox, warehouse, settings, now)
        done("land_s")
        progress("measure")
        measured = measure_warehouse(warehouse, settings, workers=workers)
        done("measure_s")
        progress("tell")
        flags, cleared = standing_flags(warehouse, settings)
        done("tell_s")
        progress("pages")
        pages = write_pages(warehouse, settings, now, landed=landed)
        done("pages_s")
        ended = now + timedelta(seconds=sum(took.values()))
        report = NightReport(
            _run_id(now, warehouse),
            now,
            ended,
            landed,
            measured,
            flags,
            cleared,
            pages.index,
            took,
        )
        write_run_report(warehouse, settings, report)
    return report


def standing_flags(
    warehouse: Warehouse, settings: Settings, as_of: date | None = None
) -> tuple[tuple[FlagLine, ...], tuple[str, ...]]:
    """The flags that stand as of a date (default: the latest session), and what cleared lately."""
    names = ["flags", "new_flags", "cleared_flags"]
    con = open_warehouse(warehouse, settings, names, as_of=as_of)
    rows = con.execute(
        """
        SELECT f.student_id, f.aspect, f.since_date, n.student_id IS NOT NULL, f.reason
        FROM flags AS f
        LEFT JOIN (SELECT DISTINCT student_id, aspect FROM new_flags) AS n USING (student_id, aspect)
        ORDER BY f.student_id, f.aspect
        """
    ).fetchall()
    cleared = con.execute(
        "SELECT DISTINCT student_id || ' ' || aspect FROM cleared_flags ORDER BY 1"
    ).fetchall()
    return tuple(FlagLine(*row) for row in rows), tuple(str(row[0]) for row in cleared)


def _run_id(now: datetime, warehouse: Warehouse) -> str:
    """A name that sorts by time and is not taken yet."""
    stem = now.astimezone(UTC).strftime("r%Y%m%dT%H%M%SZ")
    taken = {path.stem for path in warehouse.runs.glob("r*.json")}
    number = 1
    while (run_id := stem if number == 1 else f"{stem}-{number}") in taken:
        number += 1
    return run_id


def write_run_report(warehouse: Warehouse, settings: Settings, report: NightReport) -> Path:
    """Write runs/<run>.json: what the run saw, did, refused and took; gives its path."""
    landed = report.landed
    content: dict[str, Any] = {
        "run_id": report.run_id,
        "version": __version__,
        "definitions": definitions(settings).digest,
        "started_at": report.started_at.isoformat(),
        "ended_at": report.ended_at.isoformat(),
        "exit_code": report.exit_code,
        "batch_id": landed.batch_id,
        "landed": [asdict(session) for session in landed.landed],
        "already_landed": landed.already_landed,
        "refused": [asdict(refusal) for refusal in landed.refusals],
        "waiting": [asdict(waiting) for waiting in landed.waiting],
        "warnings": list(landed.warnings),
        "ignored_columns": list(landed.ignored_columns),
        "measured": report.measured.count(Outcome.DONE),
        "current": report.measured.count(Outcome.CURRENT),
        "flags": [asdict(flag) for flag in report.flags],
        "cleared": list(report.cleared),
        "took": report.took_s,
    }
    path = warehouse.runs / f"{report.run_id}.json"
    text = json.dumps(content, indent=2, default=str, ensure_ascii=False)
    write_bytes(f"{text}\n".encode(), path)
    return path
