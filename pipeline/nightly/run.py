"""The order of a night's work."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from pipeline.land import land_inbox
from pipeline.measure import measure_warehouse
from pipeline.nightly.meters import Meters, Stopwatch
from pipeline.nightly.metrics import write_metrics
from pipeline.nightly.outputs import output_digests, settings_digest
from pipeline.nightly.report import NightReport, since_before, write_run_report
from pipeline.operate.flags import standing_in
from pipeline.operate.former import definitions_of_today, keep_definitions
from pipeline.operate.moved import what_moved
from pipeline.operate.retention import remove_old
from pipeline.operate.run_reports import failure_file, newest_report
from pipeline.pages import open_pages, write_pages
from pipeline.reading import definitions
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store import Warehouse, hold_lock

Progress = Callable[[str], None]


def run_night(
    inbox: Path,
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    *,
    since: date | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    progress: Progress = lambda stage: None,
    meters: Meters | None = None,
) -> NightReport:
    """Land what is new, measure what is new or stale, write the pages and the run report.

    `now` carries a zone; it names the run and stamps what landed. Inputs of sessions that started before
    `since`, a UTC date, are left for another night. Safe to run twice and safe to
    kill: the next run finds a whole batch or none of it. Raises LockHeld where another run is at
    work, and what its parts raise; one bad input file raises nothing, it is refused in the report.
    """
    with hold_lock(warehouse, "nightly", now):
        report = _stages(
            inbox,
            warehouse,
            settings,
            now,
            since,
            workers,
            executor,
            progress,
            meters or Meters(),
        )
        write_run_report(warehouse, report)
        write_metrics(warehouse, report)
        keep_definitions(warehouse, definitions_of_today(settings))
        failure_file(warehouse).unlink(missing_ok=True)
    return report


def _stages(
    inbox: Path,
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    since: date | None,
    workers: int,
    executor: Executor | None,
    progress: Progress,
    meters: Meters,
) -> NightReport:
    watch = Stopwatch(meters.elapsed_s, meters.processor_s)
    before = newest_report(warehouse)
    progress("land")
    landed = land_inbox(inbox, warehouse, settings, now, since=since)
    watch.done("land_s")
    progress("measure")
    measured = measure_warehouse(warehouse, settings, workers=workers, executor=executor)
    watch.done("measure_s")
    progress("tell")
    opened = open_pages(warehouse, settings)
    standing = standing_in(opened.con)
    moved = what_moved(warehouse, settings)
    watch.done("tell_s")
    progress("pages")
    pages = write_pages(warehouse, settings, now, landed=landed, opened=opened)
    opened.con.close()
    watch.done("pages_s")
    removed = remove_old(warehouse, settings.keep, now, _copies(landed))
    digest = definitions(settings).digest
    outputs = output_digests(warehouse, digest, landed, measured)
    watch.done("close_s")
    return NightReport(
        run_id=_run_id(now, warehouse),
        started_at=now,
        ended_at=now + timedelta(seconds=sum(watch.took_s.values())),
        definitions=digest,
        settings_sha256=settings_digest(settings),
        landed=landed,
        measured=measured,
        flags=standing.flags,
        cleared=standing.cleared,
        undecided=standing.undecided,
        since_before=since_before(before, standing.flags),
        moved=moved,
        pages=pages.index,
        outputs=outputs,
        removed=removed,
        took_s=watch.took_s,
        used_s=watch.used_s,
        peak_memory=meters.peak_memory(),
    )


def _copies(landed: LandReport) -> set[str]:
    """The copies in quarantine of what is still refused."""
    return {copy for r in landed.refusals if (copy := r.quarantined_as) is not None}


def _run_id(now: datetime, warehouse: Warehouse) -> str:
    """A name that sorts by time and is not taken yet."""
    stem = now.astimezone(UTC).strftime("r%Y%m%dT%H%M%SZ")
    taken = {path.stem for path in warehouse.runs.glob("r*.json")}
    number = 1
    while (run_id := stem if number == 1 else f"{stem}-{number}") in taken:
        number += 1
    return run_id
