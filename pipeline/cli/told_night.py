"""What a night tells a person: what came in, what was measured, who needs work and why."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from pipeline.cli.told import count, measuring_lines
from pipeline.cli.told_inbox import landing_lines

if TYPE_CHECKING:
    from pipeline.nightly import NightReport


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
        raised = f"raised {flag.since_date}" + (", new" if flag.is_new else "")
        yield f"    {flag.student_id} {flag.aspect} ({raised}): {flag.reason}"
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


def removed_lines(report: "NightReport") -> Iterator[str]:
    """What was removed because the school keeps it no longer; nothing where nothing was."""
    removed = report.removed
    if removed.run_reports or removed.quarantined_files:
        yield (
            f"removed for their age: {count(removed.run_reports, 'run report')}, "
            f"{count(removed.quarantined_files, 'file')} of quarantine"
        )
