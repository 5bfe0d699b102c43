"""Refusing a store that a newer version wrote: what this one does not know it must not change."""

from collections.abc import Iterator
from functools import cache
from pathlib import Path

from pipeline.errors import StoreDamaged, StoreNewer
from pipeline.schema.tables import SCHEMA_VERSION
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import read_metadata


def refuse_newer(warehouse: Warehouse) -> None:
    """Raises StoreNewer where a batch, or what instructors noted, has a later form than is known.

    A batch's files are of one form, so the one that commits it tells it for all. A file that cannot be
    read is passed over: whoever reads it says so.
    """
    for path in _told_by(warehouse):
        try:
            version = _schema_version(path, path.stat().st_mtime_ns)
        except FileNotFoundError:
            continue  # merged into another batch this moment
        if version > SCHEMA_VERSION:
            raise StoreNewer(
                f"{path.relative_to(warehouse.root)}: written by a newer version of levelhold (form "
                f"{version} of the store; this one knows forms up to {SCHEMA_VERSION}); nothing was changed: "
                "install the newer version again, or restore a backup from before it into a new folder"
            )


def _told_by(warehouse: Warehouse) -> Iterator[Path]:
    committed = warehouse.committed_batches()
    yield from (warehouse.table_path("sessions", batch_id) for batch_id in committed)
    yield from warehouse.table_files("reviews")


@cache
def _schema_version(path: Path, written_ns: int) -> int:
    """The form that a file says it has; 0 where it says none."""
    try:
        return int(read_metadata(path).get("schema_version", 0))
    except (StoreDamaged, ValueError, TypeError):
        return 0
