"""Removing what a killed run left behind."""

from collections.abc import Iterable
from pathlib import Path

from pipeline.store.readers import without_readers
from pipeline.store.seal import require_no_loss, seal_unsealed
from pipeline.store.warehouse import PART_SUFFIX, REPLACES_SUFFIX, Warehouse

_BATCH_KINDS = ("tasks", "roster", "devices")


def sweep(warehouse: Warehouse, *, spare_readers: bool = True) -> tuple[Path, ...]:
    """Remove half-written files and files of batches that were never committed; gives back what was removed.

    So are the batches that a compacted one replaces; where somebody reads, who may still open them, they
    are left to a later run, unless readers are not to be spared. Only to be called by the holder of the
    lock: another run's batch is uncommitted while it is being written. Raises StoreDamaged, and removes
    nothing, where a committed batch lost its sessions file.
    """
    require_no_loss(warehouse)
    seal_unsealed(warehouse)
    past = {batch_id for ids in warehouse.replaced_batches().values() for batch_id in ids}
    left = [path for path in uncommitted(warehouse) if path.stem not in past]
    doomed = [*half_written(warehouse), *left]
    _remove(doomed)
    if past:
        with without_readers(warehouse) as is_alone:
            if is_alone or not spare_readers:
                doomed += _remove_past(warehouse, past)
    return tuple(doomed)


def _remove_past(warehouse: Warehouse, past: set[str]) -> list[Path]:
    """Remove the batches that a compacted one replaces."""
    lists = [warehouse.replaces_path(batch_id) for batch_id in warehouse.replaced_batches()]
    rest = [path for path in uncommitted(warehouse) if path.stem in past]
    # The lists go last: without its list a batch that was replaced would count again.
    doomed = [*replaced(warehouse), *rest, *lists]
    _remove(doomed)
    return doomed


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)


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
