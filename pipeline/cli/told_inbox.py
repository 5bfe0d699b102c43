"""What one look at the inbox took, refused and left waiting: short lines, one for each input refused."""

from collections.abc import Iterable, Iterator, Sequence

from pipeline.cli.told import count
from pipeline.reports import LandReport

NAMED = 3
"""How many inputs that wait for the same are named in one line."""


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
