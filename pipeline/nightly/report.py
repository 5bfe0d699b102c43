"""What one night did, as a value and as the run report that it leaves behind."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pipeline import __version__
from pipeline.nightly.meters import PeakMemory
from pipeline.operate.flags import FlagLine
from pipeline.operate.moved import Moved
from pipeline.operate.retention import Removed
from pipeline.reports import LandReport, Outcome, WorkReport
from pipeline.store import Warehouse, write_bytes


@dataclass(frozen=True)
class FlagName:
    """A student and the aspect that a flag is about."""

    student_id: str
    aspect: str


@dataclass(frozen=True)
class SinceBefore:
    """The flags that were raised and cleared since the run report before this one, which `run_id` names."""

    run_id: str
    version: str
    raised: tuple[FlagName, ...]
    cleared: tuple[FlagName, ...]


@dataclass(frozen=True)
class NightReport:
    """What one night did: its parts' reports, the flags that stand, where the pages are.

    `cleared` are the flags that the latest sessions cleared, `undecided` the students with too little data.
    `since_before` is None where no earlier run left a report, `moved` where the definitions are those of
    the last night that ended well. `outputs` are SHA-256 digests of what the run wrote, by what it is.
    `took_s` are the seconds of each stage by the clock, `used_s` those of the processor, ended workers of
    this machine included.
    """

    run_id: str
    started_at: datetime
    ended_at: datetime
    definitions: str
    settings_sha256: str
    landed: LandReport
    measured: WorkReport
    flags: tuple[FlagLine, ...]
    cleared: tuple[str, ...]
    undecided: tuple[str, ...]
    since_before: SinceBefore | None
    moved: Moved | None
    pages: Path
    outputs: Mapping[str, str]
    removed: Removed
    took_s: Mapping[str, float]
    used_s: Mapping[str, float]
    peak_memory: PeakMemory

    @property
    def exit_code(self) -> int:
        """0 done; 3 done, but some input was refused in this run."""
        return 3 if self.landed.new_refusals else 0


def since_before(
    before: Mapping[str, Any] | None, flags: tuple[FlagLine, ...]
) -> SinceBefore | None:
    """What is flagged now and was not in the report before, and the other way round."""
    if before is None or "flags" not in before or "run_id" not in before:
        return None
    then = {(flag["student_id"], flag["aspect"]) for flag in before["flags"]}
    now = {(flag.student_id, flag.aspect) for flag in flags}
    raised, cleared = (
        tuple(FlagName(*pair) for pair in sorted(pairs)) for pairs in (now - then, then - now)
    )
    return SinceBefore(before["run_id"], str(before.get("version")), raised, cleared)


def write_run_report(warehouse: Warehouse, report: NightReport) -> Path:
    """Write runs/<run>.json: what the run saw, did, refused, wrote and took; gives its path."""
    path = warehouse.runs / f"{report.run_id}.json"
    text = json.dumps(report_content(report), indent=2, default=str, ensure_ascii=False)
    write_bytes(f"{text}\n".encode("utf-8", "surrogateescape"), path)
    return path


def report_content(report: NightReport) -> dict[str, Any]:
    """The run report as plain values and dates."""
    before = report.since_before
    return {
        "run_id": report.run_id,
        "version": __version__,
        "definitions": report.definitions,
        "settings_sha256": report.settings_sha256,
        "started_at": report.started_at.isoformat(),
        "ended_at": report.ended_at.isoformat(),
        "exit_code": report.exit_code,
        **_landing(report.landed),
        "measured": report.measured.count(Outcome.DONE),
        "current": report.measured.count(Outcome.CURRENT),
        "failed": [asdict(u) for u in report.measured.units if u.outcome is Outcome.FAILED],
        "flags": [asdict(flag) for flag in report.flags],
        "cleared": list(report.cleared),
        "undecided": list(report.undecided),
        "since_before": None if before is None else asdict(before),
        "moved": None if report.moved is None else asdict(report.moved),
        "outputs": dict(report.outputs),
        "removed": asdict(report.removed),
        "took": dict(report.took_s),
        "processor": dict(report.used_s),
        "peak_memory": asdict(report.peak_memory),
    }


def _landing(landed: LandReport) -> dict[str, Any]:
    return {
        "batch_id": landed.batch_id,
        "landed": [asdict(session) for session in landed.landed],
        "already_landed": landed.already_landed,
        "refused": [asdict(refusal) for refusal in landed.refusals],
        "waiting": [asdict(waiting) for waiting in landed.waiting],
        "warnings": list(landed.warnings),
        "ignored_columns": list(landed.ignored_columns),
        "roster_rows": landed.roster_rows,
        "device_rows": landed.device_rows,
        "swept_files": landed.swept_files,
        "passed_over": landed.passed_over,
    }
