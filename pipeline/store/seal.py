"""Seals: the digest of each committed batch's sessions file, which holds the digests of all its other files.

A seal is written right after the commit, so every byte of a batch can be checked, and a sessions file that
went missing is told from a batch that was never committed.
"""

import hashlib
from pathlib import Path

from pipeline.errors import StoreDamaged
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import write_bytes


def digest_of(path: Path) -> str:
    """The SHA-256 of a file in hexadecimal."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def seal(warehouse: Warehouse, batch_id: str) -> None:
    """Write the seal of a committed batch, in the form that `sha256sum --check` reads."""
    path = warehouse.table_path("sessions", batch_id)
    write_bytes(seal_text(digest_of(path), batch_id), warehouse.seal_path(batch_id))


def seal_text(digest: str, batch_id: str) -> bytes:
    """What a seal says of a sessions file with this digest."""
    return f"{digest}  {batch_id}.parquet\n".encode()


def sealed_digest(warehouse: Warehouse, batch_id: str) -> str | None:
    """The digest that the seal holds; None where there is no seal."""
    path = warehouse.seal_path(batch_id)
    return (
        path.read_text(encoding="utf-8", errors="replace").partition(" ")[0]
        if path.exists()
        else None
    )


def lost_batches(warehouse: Warehouse) -> tuple[str, ...]:
    """Batches that were committed and sealed and whose sessions file is gone."""
    seals = {path.stem for path in warehouse.sessions.glob("b*.sha256")}
    replaced = {b for ids in warehouse.replaced_batches().values() for b in ids}
    return tuple(sorted(seals - replaced - set(warehouse.committed_batches())))


def require_no_loss(warehouse: Warehouse) -> None:
    """Raises StoreDamaged where a sealed batch lost its sessions file: its samples would look like strays."""
    lost = lost_batches(warehouse)
    if lost:
        names = ", ".join(f"sessions/{batch_id}.parquet" for batch_id in lost)
        raise StoreDamaged(f"{names}: missing; {MEND_LOST}")


def seal_unsealed(warehouse: Warehouse) -> None:
    """Seal what a run committed just before it was killed."""
    for batch_id in warehouse.committed_batches():
        if not warehouse.seal_path(batch_id).exists():
            seal(warehouse, batch_id)


MEND_LOST = (
    "restore it from a backup, or delete the file of the same name that ends in .sha256: "
    "then the batch is given up and its logs, where they still lie in the inbox, land again"
)
