"""Removing what a killed run left behind."""

from pathlib import Path

from pipeline.store.seal import require_no_loss, seal_unsealed
from pipeline.store.warehouse import PART_SUFFIX, REPLACES_SUFFIX, Warehouse

_BATCH_KINDS = ("tasks", "roster", "devices")


def sweep(warehouse: Warehouse) -> tuple[Path, ...]:
    """Remove half-written files and files of batches that were never committed; gives back what was removed.

    Only to be called by the holder of the lock: another run's batch is uncommitted while it is being written.
    Raises StoreDamaged, and removes nothing, where a committed batch lost its sessions file.
    """
    require_no_loss(warehouse)
    seal_unsealed(warehouse)
    doomed = (*half_written(warehouse), *replaced(warehouse), *uncommitted(warehouse))
    lists = [warehouse.replaces_path(batch_id) for batch_id in warehouse.replaced_batches()]
    # The lists go last: without its list a batch that was replaced would count again.
    for path in (*doomed, *lists):
        path.unlink(missing_ok=True)
    return (*doomed, *lists)


def replaced(warehouse: Warehouse) -> tuple[Path, ...]:
    """Seals and sessions files of batches that a compacted one replaces; the rest of them is uncommitted."""
    ids = sorted(b for ids in warehouse.replaced_batches().values() for b in ids)
    pairs = ((warehouse.seal_path(b), warehouse.table_path("sessions", b)) for b in ids)
    return tuple(path for pair in pairs for path in pair if path.exists())


def half_written(warehouse: Warehouse) -> tuple[Path, ...]:
    """Files that were being written when a run ended."""
    return tuple(
        sorted(path for path in warehouse.root.rglob(f".*{PART_SUFFIX}") if path.is_file())
    )


def uncommitted(warehouse: Warehouse) -> tuple[Path, ...]:
    """Files of batches that no sessions file commits, their measures included."""
    committed = set(warehouse.committed_batches())
    tables = (path for kind in _BATCH_KINDS for path in (warehouse.root / kind).glob("b*.parquet"))
    found = (
        *warehouse.samples.glob("session_date=*/b*.parquet"),
        *tables,
        *warehouse.measures.glob("*/*/session_date=*/b*.parquet"),
        *(
            path
            for path in warehouse.sessions.glob(f"b*{REPLACES_SUFFIX}")
            if not warehouse.table_path("sessions", path.stem).exists()
        ),
    )
    return tuple(sorted(path for path in found if path.stem not in committed))
