"""What a run tells a person: short lines, one a fact, one for each input that was refused."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from pipeline.cli.tables import plain
from pipeline.reports import Finding, LandReport, Outcome, WorkReport

if TYPE_CHECKING:
    from pipeline.measure.shards import ShardReport
    from pipeline.nightly import NightReport

NAMED = 3
"""How many inputs that wait for the same are named in one line."""

STAGES = {
    "land": "reading the inbox",
    "measure": "measuring",
    "tell": "working out who needs work",
    "pages": "writing the pages",
}
"""The stages of a night in words, as a terminal shows them."""


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
        yield lambda stage: status.update(f"{STAGES.get(stage, stage)} ...")


def night_lines(report: "NightReport") -> Iterator[str]:
    """A night in full: what came in, what was measured, who needs work and why, where the page is."""
    from pipeline.operate.moved_words import moved_lines

    yield from landing_lines(report.landed)
    yield from measuring_lines(report.measured)
    yield from moved_lines(report.moved)
    yield from flag_lines(report)
    yield from removed_lines(report)
    yield f"page: {report.pages}"


def flag_lines(report: "NightReport") -> Iterator[str]:
    """The flags that stand, each with its reason, and those that cleared."""
    if not report.flags:
        yield nobody_line(len(report.measured.units), report.undecided)
    else:
        yield f"{count(len(report.flags), 'flag')}: more straight-and-level work may help"
    for flag in report.flags:
        since = f"since {flag.since_date}" + (", new" if flag.is_new else "")
        yield f"    {flag.student_id} {flag.aspect} ({since}): {flag.reason}"
    if report.cleared:
        yield f"cleared: {', '.join(report.cleared)}"


def nobody_line(scored: int, undecided: Sequence[str]) -> str:
    """That nobody is flagged, and of how many students that says nothing."""
    if not scored:
        return "nobody is flagged: no session has landed yet"
    if not undecided:
        return "nobody is flagged"
    students = count(len(undecided), "student")
    return f"nobody is flagged; with too little data to tell: {students}, as the page lists"


def waiting_lines(sentences: Sequence[str]) -> Iterator[str]:
    """What waits, a line each; where many wait for the same, one line that names the first of them."""
    alike: dict[tuple[str, str], list[str]] = {}
    for sentence in sentences:
        subject, _, rest = sentence.partition(": ")
        kind = "session" if subject.startswith("session ") else "file"
        alike.setdefault((kind, rest), []).append(subject)
    for (kind, rest), subjects in alike.items():
        if len(subjects) <= NAMED:
            yield from (f"waiting: {subject}: {rest}" for subject in subjects)
            continue
        named = ", ".join(subject.removeprefix("session ") for subject in subjects[:NAMED])
        yield f"waiting: {len(subjects)} {kind}s ({named} and {len(subjects) - NAMED} more): {rest}"


def removed_lines(report: "NightReport") -> Iterator[str]:
    """What was removed because the school keeps it no longer; nothing where nothing was."""
    removed = report.removed
    if removed.run_reports or removed.quarantined_files:
        yield (
            f"removed for their age: {count(removed.run_reports, 'run report')}, "
            f"{count(removed.quarantined_files, 'file')} of quarantine"
        )


def landing_lines(report: LandReport) -> Iterator[str]:
    """What one look at the inbox took, refused, left waiting and noticed: its sum first."""
    sums = [f"{report.already_landed} already there"]
    new = report.new_refusals
    if new:
        sums.append(f"{len(new)} refused")
    if report.waiting:
        sums.append(f"{len(report.waiting)} waiting")
    yield f"landed {count(len(report.landed), 'session')}, {', '.join(sums)}"
    if report.passed_over:
        yield f"passed over as asked: {count(report.passed_over, 'session')} of before that date"
    if report.roster_rows or report.device_rows:
        yield f"roster rows new or changed: {report.roster_rows}; device rows: {report.device_rows}"
    changed = [session for session in report.landed if session.changed]
    for session in changed:
        what = ", ".join(session.changed)
        yield f"revised {session.session_id} (revision {session.revision}): {what} changed"
    yield from refused_lines([(r.file, [reason.sentence for reason in r.reasons]) for r in new])
    if new:
        yield mend_line([refusal.quarantined_as for refusal in new])
    if old := len(report.refusals) - len(new):
        yield f"refused before and unchanged: {old} (levelhold status names them)"
    yield from waiting_lines([waiting.sentence for waiting in report.waiting])
    yield from (f"note: {warning}" for warning in report.warnings)
    if report.ignored_columns:
        yield f"note: columns ignored: {', '.join(report.ignored_columns)}"


def refused_lines(refusals: Iterable[tuple[str, Sequence[str]]]) -> Iterator[str]:
    """Refused inputs, a file and its reasons each: a line with the first, which says what to do.

    Where many files are refused for the same, one line names the first of them.
    """
    alike: dict[tuple[str, int], list[str]] = {}
    for file, sentences in refusals:
        shown = file if sentences[0].startswith(file) else ""
        key = (sentences[0].removeprefix(shown), len(sentences) - 1)
        alike.setdefault(key, []).append(shown)
    for (said, more), files in alike.items():
        rest = said + (f" (and {count(more, 'more fault')})" if more else "")
        if len(files) <= NAMED:
            yield from (f"refused: {file}{rest}" for file in files)
        else:
            named = f"{', '.join(files[:NAMED])} and {len(files) - NAMED} more"
            yield f"refused: {len(files)} files ({named}){rest}"


def mend_line(copies: Sequence[str | None]) -> str:
    """What to do about refused inputs, and where in the warehouse their copies are."""
    one, them = ("it", "it") if len(copies) == 1 else (f"these {len(copies)}", "them")
    mend = f"mend {one} in the inbox, and the next night takes {them} by itself"
    folders = sorted({"/".join(copy.split("/")[:2]) for copy in copies if copy is not None})
    if not folders:
        return mend
    return f"{mend}; copies, with every reason, are in the warehouse's {' and '.join(folders)}"


def measuring_lines(report: WorkReport) -> Iterator[str]:
    """How many samples files were measured, were current, or failed and why."""
    done, current = report.count(Outcome.DONE), report.count(Outcome.CURRENT)
    yield f"measured {count(done, 'unit')} of work, {current} already current"
    for unit in report.units:
        if unit.outcome is Outcome.FAILED:
            yield f"failed {unit.unit}: {unit.detail}"


def shard_lines(report: "ShardReport") -> Iterator[str]:
    """What one share measured, and whether the array is to be run once more."""
    yield from measuring_lines(report.work)
    if report.awaited:
        yield (
            f"{count(report.awaited, 'samples file')} of other shares not measured yet: when all shards have "
            "ended, run them once more for what rests on the devices' neutrals"
        )


def finding_lines(findings: list[Finding]) -> Iterator[str]:
    """What is wrong with a store, each with how to mend it."""
    for finding in findings:
        yield f"{finding.check}: {finding.sentence}"
        yield f"    {finding.mend}"
    yield f"{count(len(findings), 'fault')} found" if findings else "no fault found"


def count(number: int, noun: str) -> str:
    """A number of things, the noun in the plural where it needs to be."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
