"""The night's work: nightly."""

import tempfile
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.far import Scheduler, TlsCaFile, TlsCert, TlsKey, workers_at
from pipeline.cli.options import (
    InboxFolder,
    IsJson,
    IsQuiet,
    Since,
    WarehouseFolder,
    Workers,
    as_date,
    worker_count,
)
from pipeline.cli.told import (
    count,
    stage_shown,
    tell,
)
from pipeline.cli.told_inbox import landing_lines
from pipeline.cli.told_night import night_lines

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from pipeline.settings import Settings
    from pipeline.store.warehouse import Warehouse


REFUSED = 3
"""Exit code of a run that is done, but refused some input."""


def nightly(
    inbox: InboxFolder,
    warehouse: WarehouseFolder,
    since: Since = None,
    workers: Workers = None,
    is_dry_run: Annotated[
        bool,
        typer.Option("--dry-run", help="Say what would land or be refused; write nothing."),
    ] = False,
    scheduler: Scheduler = None,
    tls_ca_file: TlsCaFile = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    is_json: IsJson = False,
    is_quiet: IsQuiet = False,
) -> None:
    """Take in what is new, score it, and rebuild the pages.

    Example: levelhold nightly --inbox demo/inbox --warehouse demo/warehouse
    """
    from pipeline.nightly import report_content, run_night
    from pipeline.reading import school_settings
    from pipeline.store.warehouse import Warehouse

    place = Warehouse(warehouse)
    now = datetime.now(UTC)
    if is_dry_run:
        _tell_preview(inbox, place, school_settings(place), now, as_date(since), is_json)
        return
    with _failure_on_record(place, now), stage_shown() as progress:
        settings, processes = school_settings(place), worker_count(workers)
        with workers_at(scheduler, tls_ca_file, tls_cert, tls_key, place.root) as executor:
            report = run_night(
                inbox,
                place,
                settings,
                now,
                since=as_date(since),
                workers=processes,
                executor=executor,
                progress=progress,
            )
    if report.exit_code or not is_quiet:
        tell(report_content(report), night_lines(report), is_json)
    if report.exit_code:
        raise typer.Exit(report.exit_code)


@contextmanager
def _failure_on_record(place: "Warehouse", now: datetime) -> "Iterator[None]":
    """Keep on record what ends a night early; the error goes its way."""
    from pipeline.cli import exit_code_of
    from pipeline.nightly.failure import record_failure

    try:
        yield
    except Exception as error:
        record_failure(place, now, error, exit_code_of(error))
        raise


def _tell_preview(
    inbox: Path,
    place: "Warehouse",
    settings: "Settings",
    now: datetime,
    since: "date | None",
    is_json: bool,
) -> None:
    """Say what a night would do; its exit code is the one that the night would leave."""
    from pipeline.operate.preview import preview_night

    with tempfile.TemporaryDirectory(prefix="levelhold-") as scratch:
        preview = preview_night(inbox, place, settings, now, Path(scratch), since)
    files = count(preview.to_measure, "samples file")
    lines = [
        "dry run: this is what a night would do, nothing was written",
        *landing_lines(preview.landing),
        f"would measure {files}, then write the pages",
    ]
    tell(preview, lines, is_json)
    if preview.landing.new_refusals:
        raise typer.Exit(REFUSED)
