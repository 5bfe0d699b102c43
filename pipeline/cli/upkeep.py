"""Commands that look after a store: check, compact, backup, restore."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import (
    IsJson,
    LocalWarehouse,
    WarehouseFolder,
    Workers,
    existing_warehouse,
    worker_count,
)
from pipeline.cli.told import count, finding_lines, tell
from pipeline.errors import StoreDamaged

if TYPE_CHECKING:
    from pipeline.store.backup import BackupReport

BackupFolder = Annotated[Path, typer.Argument(metavar="DIR", help="The folder of the backup.")]


def check(warehouse: WarehouseFolder, is_json: IsJson = False) -> None:
    """Look the store over for damage and broken rules.

    Reads every file and changes nothing. Figures that wait to be computed again, as after a withdrawal, are
    told and are no damage.

    Example: levelhold check --warehouse demo/warehouse
    """
    from pipeline.measure.audit import audit_measures
    from pipeline.reading import broken_rules, school_settings
    from pipeline.store import audit_store, refuse_newer

    place = existing_warehouse(warehouse)
    refuse_newer(place)
    findings = audit_store(place)
    if not findings:
        settings = school_settings(place)
        findings = audit_measures(place, settings) or broken_rules(place, settings)
    tell(findings, finding_lines(findings), is_json)
    if any(finding.is_damage for finding in findings):
        raise typer.Exit(StoreDamaged.exit_code)


def compact(
    warehouse: WarehouseFolder,
    target_mb: Annotated[
        float,
        typer.Option("--target-mb", min=0.001, metavar="MB", help="How large batches may grow."),
    ] = 64,
    workers: Workers = None,
    is_json: IsJson = False,
) -> None:
    """Merge small batches into larger ones.

    Every figure stays as it is.

    Example: levelhold compact --warehouse demo/warehouse
    """
    from pipeline import store
    from pipeline.measure import measure_warehouse
    from pipeline.reading import school_settings

    place = existing_warehouse(warehouse)
    settings = school_settings(place)
    with store.hold_lock(place, "compact", datetime.now(UTC)):
        merged = store.compact(place, target_mb)
        if merged and place.measures.is_dir():
            measure_warehouse(place, settings, workers=worker_count(workers))
    lines = [f"merged {len(batch.replaces)} batches into {batch.batch_id}" for batch in merged]
    last = (
        "what they replace is removed by the next run, once nobody reads"
        if merged
        else "nothing to merge"
    )
    tell(merged, [*lines, last], is_json)


def backup(folder: BackupFolder, warehouse: WarehouseFolder, is_json: IsJson = False) -> None:
    """Copy the store, without what can be derived, and prove it.

    DIR is a new folder.

    Example: levelhold backup /media/disk/2026-03-28 --warehouse demo/warehouse
    """
    from pipeline.store import back_up, hold_lock

    place = existing_warehouse(warehouse)
    with hold_lock(place, "backup", datetime.now(UTC)):
        report = back_up(place, folder)
    tell(report, [_copied(report), "measures and pages are not in it: they are derived"], is_json)


def restore(
    folder: BackupFolder,
    warehouse: LocalWarehouse,
    workers: Workers = None,
    is_json: IsJson = False,
) -> None:
    """Make a store from a backup, and measure it.

    Example: levelhold restore /media/disk/2026-03-28 --warehouse new/warehouse
    """
    from pipeline.measure import measure_warehouse
    from pipeline.reading import school_settings
    from pipeline.store import back_up, hold_lock
    from pipeline.store.warehouse import Warehouse

    source, place = existing_warehouse(folder), Warehouse(warehouse)
    now = datetime.now(UTC)
    with hold_lock(source, "restore", now):
        report = back_up(source, warehouse)
    settings = school_settings(place)
    with hold_lock(place, "restore", now):
        measure_warehouse(place, settings, workers=worker_count(workers))
    lines = [
        _copied(report),
        "whoever was forgotten after the backup was made is in it again: forget them again",
    ]
    tell(report, lines, is_json)


def _copied(report: "BackupReport") -> str:
    size = report.size_bytes / 1_000_000
    return f"copied {count(report.files, 'file')}, {size:.1f} MB, to {report.folder}"
