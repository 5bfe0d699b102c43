"""Removing what a killed run left behind."""

from pathlib import Path

from pipeline.store.seal import require_no_loss, seal_unsealed
from pipeline.store.warehouse import PART_SUFFIX, Warehouse

_BATCH_KINDS = ("tasks", "roster", "devices")


def sweep(warehouse: Warehouse) -> tuple[Path, ...]:
    """Remove half-written files and files of batches that were never committed; gives back what was removed.

    Only to be called by the holder of the lock: another run's batch is uncommitted while it is being written.
    Raises StoreDamaged, and removes nothing, where a committed batch lost its sessions file.
    """
    require_no_loss(warehouse)
    seal_unsealed(warehouse)
    doomed = (*half_written(warehouse), *uncommitted(warehouse))
    for path in doomed:
        path.unlink(missing_ok=True)
    return doomed


def half_written(warehouse: Warehouse) -> tuple[Path, ...]:
    """Files that were being written when a run ended."""
    return tuple(
        sorted(path for path in warehouse.root.rglob(f".*{PART_SUFFIX}") if path.is_file())
    )


def uncommitted(warehouse: Warehouse) -> tuple[Path, ...]:
    """Files of batches that no sessions file commits."""
    committed = set(warehouse.committed_batches())
    tables = (path for kind in _BATCH_KINDS for path in (warehouse.root / kind).glob("b*.parquet"))
    found = (*warehouse.samples.glob("session_date=*/b*.parquet"), *tables)
    return tuple(sorted(path for path in found if path.stem not in committed))
