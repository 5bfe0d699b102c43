"""What a night would do, found by doing it in a scratch folder: the store is only read."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Final

from pipeline.land import land_inbox
from pipeline.measure.units import NEUTRALS, Unit, rests_on_neutrals
from pipeline.reading import definitions, kept_relations
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store import Warehouse

_FOLDERS: Final = ("profiles", "forgotten")
_TABLES: Final = ("sessions", "tasks", "roster", "devices")


@dataclass(frozen=True)
class Preview:
    """What the next night would land, refuse and leave waiting, and which samples files it would measure.

    `to_measure` counts files by what they hold themselves; a new neutral of a device may add to it.
    """

    landing: LandReport
    to_measure: int


def preview_night(
    inbox: Path,
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    scratch: Path,
    since: date | None = None,
) -> Preview:
    """Land the inbox into a likeness of the warehouse in `scratch`, an empty folder; the store is only read.

    By the very code that lands, so that the two cannot differ. No copy in quarantine is named: none is
    there to stay. Raises UsageError where there is no such inbox.
    """
    likeness = _likeness(warehouse, scratch)
    landing = land_inbox(inbox, likeness, settings, now, since=since)
    brought = sum(not path.is_symlink() for path in likeness.sample_files())
    refusals = tuple(replace(refusal, quarantined_as=None) for refusal in landing.refusals)
    return Preview(replace(landing, refusals=refusals), stale_count(warehouse, settings) + brought)


def stale_count(warehouse: Warehouse, settings: Settings) -> int:
    """How many samples files have no figures, or some of another definition or input."""
    names = tuple(name for name in kept_relations() if not rests_on_neutrals(name))
    digest, none = definitions(settings).digest, NEUTRALS.empty_table()
    files = warehouse.sample_files()
    units = (Unit(warehouse.root, path, digest, settings, names, none) for path in files)
    return sum(not unit.is_current() for unit in units)


def _likeness(warehouse: Warehouse, scratch: Path) -> Warehouse:
    """Links to the files that landing reads of a warehouse, in folders of their own.

    Files are linked, never folders: landing sweeps strays away, and must find none of the store's.
    """
    copy = Warehouse(scratch / "warehouse")
    copy.root.mkdir()
    if warehouse.memory_file.exists():
        copy.memory_file.write_bytes(warehouse.memory_file.read_bytes())
    for path in _read_by_landing(warehouse):
        place = copy.root / path.relative_to(warehouse.root)
        place.parent.mkdir(parents=True, exist_ok=True)
        place.symlink_to(path.resolve())
    return copy


def _read_by_landing(warehouse: Warehouse) -> Iterable[Path]:
    for folder in _FOLDERS:
        yield from (p for p in (warehouse.root / folder).rglob("*") if p.is_file())
    yield from warehouse.sample_files()
    for kind in _TABLES:
        yield from warehouse.table_files(kind)
    replaced = {b for ids in warehouse.replaced_batches().values() for b in ids}
    seals = warehouse.sessions.glob("b*.sha256")
    yield from (path for path in seals if path.stem not in replaced)
