"""How long run reports and copies of refused files are kept: as the school sets it, else for good."""

from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from pipeline.settings import Keep
from pipeline.store import Warehouse

_STAMP_LENGTH = len("r20260328T020000Z")


@dataclass(frozen=True)
class Removed:
    """How many run reports and how many files of quarantine were removed for their age."""

    run_reports: int = 0
    quarantined_files: int = 0


def remove_old(
    warehouse: Warehouse, keep: Keep, now: datetime, standing: Collection[str] = ()
) -> Removed:
    """Remove what is older than the school keeps it; gives how much that was.

    The newest run report stays, and so does the copy, named in `standing` by its path within the
    warehouse, of an input that is still refused. What bears no date in its name is left alone.
    """
    reports = _old_reports(warehouse, keep.runs_days, now)
    copies = _old_copies(warehouse, keep.quarantine_days, now, standing)
    for path in (*reports, *copies):
        path.unlink()
    if copies:
        _remove_empty(warehouse.quarantine)
    return Removed(len(reports), len(copies))


def _old_reports(warehouse: Warehouse, days: int | None, now: datetime) -> list[Path]:
    if days is None:
        return []
    first_kept = (now.astimezone(UTC) - timedelta(days=days)).strftime("r%Y%m%dT%H%M%SZ")
    older = warehouse.run_reports()[:-1]
    return [path for path in older if path.stem[:_STAMP_LENGTH] < first_kept]


def _old_copies(
    warehouse: Warehouse, days: int | None, now: datetime, standing: Collection[str]
) -> list[Path]:
    if days is None or not warehouse.quarantine.is_dir():
        return []
    first_kept = now.astimezone(UTC).date() - timedelta(days=days)
    kept = {warehouse.root / name for name in standing}
    kept |= {path.with_name(f"{path.name}.reason.json") for path in kept}
    return [
        path
        for folder in sorted(warehouse.quarantine.iterdir())
        if (day := _day_of(folder)) is not None and day < first_kept
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path not in kept
    ]


def _day_of(folder: Path) -> date | None:
    """The date that a folder is named for; None where it is named otherwise."""
    with suppress(ValueError):
        return date.fromisoformat(folder.name)
    return None


def _remove_empty(folder: Path) -> None:
    """Remove the folders below one that hold nothing any more, the deepest first."""
    for path in sorted((p for p in folder.rglob("*") if p.is_dir()), reverse=True):
        if not any(path.iterdir()):
            path.rmdir()
