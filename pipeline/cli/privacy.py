"""The command that takes a student out of a store: forget."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import (
    IsJson,
    WarehouseFolder,
    Workers,
    existing_warehouse,
    worker_count,
)
from pipeline.cli.told import count, tell
from pipeline.errors import StoreDamaged, UsageError

if TYPE_CHECKING:
    from pipeline.land.forget import ForgetReport


def forget(
    student: Annotated[str, typer.Argument(metavar="STUDENT", help="The student's code.")],
    warehouse: WarehouseFolder,
    inbox: Annotated[
        Path | None,
        typer.Option("--inbox", metavar="DIR", help="Also tells sessions that never landed."),
    ] = None,
    is_sure: Annotated[bool, typer.Option("--yes", help="Do it: it cannot be undone.")] = False,
    workers: Workers = None,
    is_json: IsJson = False,
) -> None:
    """Take a student out of the store, for good, and prove it.

    Every file of the store is rewritten. Nothing of them lands again; exports handed out, key files and
    backups are out of reach.

    Example: levelhold forget TH04 --inbox demo/inbox --warehouse demo/warehouse --yes
    """
    from pipeline.land.forget import forget_student
    from pipeline.measure import measure_warehouse
    from pipeline.pages import write_pages
    from pipeline.reading import school_settings
    from pipeline.store import hold_lock

    place, now = existing_warehouse(warehouse), datetime.now(UTC)
    settings = school_settings(place)
    with hold_lock(place, "forget", now):
        has_pages = place.pages.exists()
        report = forget_student(place, settings, student, now, inbox=inbox, is_trial=not is_sure)
        if not report.is_done:
            raise UsageError(
                f"{count(report.session_count, 'session')} would go, "
                f"{count(len(report.rewritten), 'file')} be written anew and "
                f"{len(report.removed)} removed; this cannot be undone: add --yes to do it"
            )
        if report.rewritten and place.measures.is_dir():
            measure_warehouse(place, settings, workers=worker_count(workers))
        if has_pages:
            write_pages(place, settings, now)
    tell(report, _lines(report, inbox), is_json)
    if report.still_named_in:
        raise typer.Exit(StoreDamaged.exit_code)


def _by_folder(files: Sequence[str]) -> str:
    """How many files in all, and in each folder of the store."""
    folders = Counter(file.partition("/")[0] for file in files)
    each = ", ".join(f"{folder} {number}" for folder, number in sorted(folders.items()))
    return f"{len(files)}, {each}" if files else "none"


def _lines(report: "ForgetReport", inbox: Path | None) -> Iterator[str]:
    yield f"forgotten: {count(report.session_count, 'session')} gone"
    yield f"files written anew: {_by_folder(report.rewritten)}"
    yield f"files removed: {_by_folder(report.removed)} (--json names each)"
    if report.still_named_in:
        yield "still named here, to be taken out by hand:"
        yield from (f"    {file}" for file in report.still_named_in)
    else:
        yield "proven: no file of the store names the student or one of their sessions"
    if inbox is None:
        yield "note: without --inbox, sessions that never landed could not be looked for"
    yield "out of reach: backups, exports handed out and their key files, and the inbox itself"
