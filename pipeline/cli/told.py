"""What a run tells a person: short lines, one a fact; what was refused comes with every reason."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from pipeline.cli.tables import plain
from pipeline.reports import Finding, LandReport, Outcome, Refusal, WorkReport

if TYPE_CHECKING:
    from pipeline.nightly import NightReport


def tell(report: object, lines: Iterable[str], is_json: bool) -> None:
    """Print a report on standard output, as lines or as JSON."""
    if is_json:
        print(json.dumps(plain(report), ensure_ascii=False, indent=1))
    else:
        print(*lines, sep="\n")


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """A function that shows how many of how many are done, on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


@contextmanager
def stage_shown() -> Iterator[Callable[[str], None]]:
    """A function that shows which stage the run is in, on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda stage: None
        return
    from rich.console import Console

    with Console(stderr=True).status("") as status:
        yield lambda stage: status.update(f"{stage} ...")


def night_lines(report: "NightReport") -> Iterator[str]:
    """A night in full: what came in, what was measured, who needs work and why, where the page is."""
    yield from landing_lines(report.landed)
    yield from measuring_lines(report.measured)
    yield from flag_lines(report)
    yield from removed_lines(report)
    yield f"page: {report.pages}"


def flag_lines(report: "NightReport") -> Iterator[str]:
    """The flags that stand, each with its reason, and those that cleared."""
    if not report.flags:
        yield "nobody is flagged"
    else:
        yield f"{count(len(report.flags), 'flag')}: more straight-and-level work may help"
    for flag in report.flags:
        since = f"since {flag.since_date}" + (", new" if flag.is_new else "")
        yield f"    {flag.student_id} {flag.aspect} ({since}): {flag.reason}"
    if report.cleared:
        yield f"cleared: {', '.join(report.cleared)}"


def removed_lines(report: "NightReport") -> Iterator[str]:
    """What was removed because the school keeps it no longer; nothing where nothing was."""
    removed = report.removed
    if removed.run_reports or removed.quarantined_files:
        yield (
            f"removed for their age: {count(removed.run_reports, 'run report')}, "
            f"{count(removed.quarantined_files, 'file')} of quarantine"
        )


def landing_lines(report: LandReport) -> Iterator[str]:
    """What one look at the inbox took, refused, left waiting and noticed."""
    yield f"landed {count(len(report.landed), 'session')}, {report.already_landed} already there"
    if report.roster_rows or report.device_rows:
        yield f"roster rows new or changed: {report.roster_rows}; device rows: {report.device_rows}"
    changed = [session for session in report.landed if session.changed]
    for session in changed:
        what = ", ".join(session.changed)
        yield f"revised {session.session_id} (revision {session.revision}): {what} changed"
    yield from refusal_lines(report.refusals)
    yield from (f"waiting: {waiting.sentence}" for waiting in report.waiting)
    yield from (f"note: {warning}" for warning in report.warnings)
    if report.ignored_columns:
        yield f"note: columns ignored: {', '.join(report.ignored_columns)}"


def refusal_lines(refusals: tuple[Refusal, ...]) -> Iterator[str]:
    """Every refusal of this run with its reasons; those of earlier runs are only counted."""
    old = 0
    for refusal in refusals:
        if not refusal.is_new:
            old += 1
            continue
        yield f"refused {refusal.what}: {refusal.file}"
        yield from (f"    {reason.sentence}" for reason in refusal.reasons)
        if refusal.quarantined_as is not None:
            yield f"    a copy is in {refusal.quarantined_as}"
    if old:
        yield f"refused before and unchanged: {old}"


def measuring_lines(report: WorkReport) -> Iterator[str]:
    """How many samples files were measured, were current, or failed and why."""
    done, current = report.count(Outcome.DONE), report.count(Outcome.CURRENT)
    yield f"measured {count(done, 'unit')} of work, {current} already current"
    for unit in report.units:
        if unit.outcome is Outcome.FAILED:
            yield f"failed {unit.unit}: {unit.detail}"


def finding_lines(findings: list[Finding]) -> Iterator[str]:
    """What is wrong with a store, each with how to mend it."""
    for finding in findings:
        yield f"{finding.check}: {finding.sentence}"
        yield f"    {finding.mend}"
    yield f"{count(len(findings), 'fault')} found" if findings else "no fault found"


def count(number: int, noun: str) -> str:
    """A number of things, the noun in the plural where it needs to be."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
