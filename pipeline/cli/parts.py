"""Parts of the night alone: ingest, score, pages."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import typer

from pipeline.cli.ask import hint_at_unmeasured
from pipeline.cli.far import Scheduler, Share, TlsCaFile, TlsCert, TlsKey, workers_at
from pipeline.cli.night import REFUSED
from pipeline.cli.options import (
    InboxFolder,
    IsJson,
    IsQuiet,
    Since,
    WarehouseFolder,
    Workers,
    as_date,
    existing_warehouse,
    worker_count,
)
from pipeline.cli.told import (
    measuring_lines,
    progress_bar,
    shard_lines,
    tell,
)
from pipeline.cli.told_inbox import landing_lines

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from pipeline.settings import Settings
    from pipeline.store.warehouse import Warehouse


def ingest(
    inbox: InboxFolder,
    warehouse: WarehouseFolder,
    since: Since = None,
    is_json: IsJson = False,
    is_quiet: IsQuiet = False,
) -> None:
    """Take what is new in the inbox into the warehouse.

    Example: levelhold ingest --inbox demo/inbox --warehouse demo/warehouse
    """
    from pipeline.land import land_inbox
    from pipeline.reading import school_settings
    from pipeline.store.warehouse import Warehouse

    place = Warehouse(warehouse)
    settings = school_settings(place)
    with progress_bar("reading logs") as progress:
        report = land_inbox(inbox, place, settings, datetime.now(UTC), progress, as_date(since))
    is_refused = bool(report.new_refusals)
    if is_refused or not is_quiet:
        tell(report, landing_lines(report), is_json)
    if is_refused:
        raise typer.Exit(REFUSED)


def score(
    warehouse: WarehouseFolder,
    workers: Workers = None,
    scheduler: Scheduler = None,
    tls_ca_file: TlsCaFile = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    shard: Share = None,
    is_json: IsJson = False,
    is_quiet: IsQuiet = False,
) -> None:
    """Measure what is new or stale in the warehouse.

    Example: levelhold score --warehouse demo/warehouse
    """
    from pipeline.measure import measure_warehouse
    from pipeline.reading import school_settings
    from pipeline.store import hold_lock

    place = existing_warehouse(warehouse)
    settings, processes = school_settings(place), worker_count(workers)
    with workers_at(scheduler, tls_ca_file, tls_cert, tls_key, place.root) as executor:
        if shard is not None:
            _score_shard(place, settings, shard, processes, executor, is_json, is_quiet)
            return
        with hold_lock(place, "score", datetime.now(UTC)):
            report = measure_warehouse(place, settings, workers=processes, executor=executor)
    if not is_quiet:
        tell(report, measuring_lines(report), is_json)


def _score_shard(
    place: "Warehouse",
    settings: "Settings",
    shard: str,
    workers: int,
    executor: "Executor | None",
    is_json: bool,
    is_quiet: bool,
) -> None:
    """Measure one share, beside those who measure the others."""
    from pipeline.measure.shards import measure_shard, shard_of
    from pipeline.store.shares import share_lock

    with share_lock(place):
        report = measure_shard(place, settings, shard_of(shard), workers=workers, executor=executor)
    if not is_quiet:
        tell(report, shard_lines(report), is_json)


def pages(warehouse: WarehouseFolder) -> None:
    """Write the pages anew from what is stored and scored.

    Example: levelhold pages --warehouse demo/warehouse
    """
    from pipeline.pages import write_pages
    from pipeline.pages.gather import SMALL
    from pipeline.reading import school_settings
    from pipeline.store import hold_lock

    place = existing_warehouse(warehouse)
    settings = school_settings(place)
    now = datetime.now(UTC)
    hint_at_unmeasured(place, settings, SMALL)
    with hold_lock(place, "pages", now):
        written = write_pages(place, settings, now)
    print(f"page: {written.index}")
