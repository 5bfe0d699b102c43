"""A store as it was when a release was made from it, though more has landed since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.store import Warehouse, read_metadata


@dataclass(frozen=True)
class StoreAsOf(Warehouse):
    """A store of which only some batches and reviews are seen."""

    batches: frozenset[str] = frozenset()
    review_names: frozenset[str] = frozenset()

    def committed_batches(self) -> tuple[str, ...]:
        """The batches that are seen, oldest first."""
        return tuple(b for b in super().committed_batches() if b in self.batches)

    def table_files(self, kind: str) -> tuple[Path, ...]:
        """The files of one small table that are seen, oldest first."""
        found = super().table_files(kind)
        return tuple(p for p in found if kind != "reviews" or p.name in self.review_names)


def store_as_of(
    warehouse: Warehouse, batches: Iterable[str], review_names: Iterable[str]
) -> StoreAsOf:
    """The store as it was with these batches and reviews; a batch that merged some of them stands for them.

    Raises UsageError where a batch is gone, or was merged with one that came later.
    """
    committed = warehouse.committed_batches()
    wanted = _as_landed(warehouse, committed, batches)
    replaces = {b: _replaced_by(warehouse, b) for b in committed}
    seen = {b: parts or {b} for b, parts in replaces.items() if (parts or {b}) <= wanted}
    if gone := wanted.difference(*seen.values()):
        raise UsageError(
            f"{len(gone)} of the batches that the release was made from are not in the store as they "
            "were: it cannot be made again from here; use a backup of that time"
        )
    return StoreAsOf(warehouse.root, frozenset(seen), frozenset(review_names))


def _as_landed(
    warehouse: Warehouse, committed: Iterable[str], batches: Iterable[str]
) -> frozenset[str]:
    """The batches as they once landed: one that was merged, and merged again since, is told by its parts."""
    found = (read_metadata(warehouse.table_path("sessions", b)) for b in committed)
    parts: dict[str, list[str]] = {}
    for batch_id, metadata in zip(committed, found, strict=True):
        parts |= metadata.get("merged", {})
        parts[batch_id] = metadata.get("replaces", [batch_id])
    return frozenset(landed for b in batches for landed in parts.get(b, [b]))


def _replaced_by(warehouse: Warehouse, batch_id: str) -> frozenset[str]:
    """The batches that a merged batch stands for; none for one that came as it is."""
    metadata = read_metadata(warehouse.table_path("sessions", batch_id))
    return frozenset(metadata.get("replaces", ()))
