"""Removing what a killed run left behind."""

from pathlib import Path

from pipeline.store.warehouse import PART_SUFFIX, Warehouse

_BATCH_KINDS = ("tasks", "roster", "devices")


def sweep(warehouse: Warehouse) -> tuple[Path, ...]:
    """Remove half-written files and files of batches that were never committed; gives back what was
    removed.

    Only to be called by the holder of the lock: another run's batch is uncommitted while it is
    being written.
    """
    doomed = (*_half_written(warehouse), *_uncommitted(warehouse))
    for path in doomed:
        path.unlink(missing_ok=True)
    return doomed


def _half_written(warehouse: Warehouse) -> tuple[Path, ...]:
    return tuple(
        sorted(path for path in warehouse.root.rglob(f".*{PART_SUFFIX}") if path.is_file())
    )


def _uncommitted(warehouse: Warehouse) -> tuple[Path, ...]:
    committed = set(warehouse.committed_batches())
    tables = (path for kind in _BATCH_KINDS for path in (warehouse.root / kind).glob("b*.parquet"))
    found = (*warehouse.samples.glob("session_date=*/b*.parquet"), *tables)
    return tuple(sorted(path for path in found if path.stem not in committed))
