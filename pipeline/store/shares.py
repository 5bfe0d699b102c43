"""Several runs at a time that measure different files of one store, and nobody else meanwhile."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager

from pipeline.errors import LockHeld
from pipeline.store.change import is_unfinished
from pipeline.store.lock import told_holder
from pipeline.store.version import refuse_newer
from pipeline.store.warehouse import Warehouse


@contextmanager
def share_lock(warehouse: Warehouse) -> Iterator[None]:
    """Share the store's lock while the block runs: a night, or any other change, waits for all who share.

    Raises LockHeld where somebody has the lock to himself, or left a change of many files half done,
    which only he who has it may finish; StoreNewer where a newer version wrote to the store.
    """
    handle = os.open(warehouse.lock_file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        raise LockHeld(told_holder(warehouse)) from None
    try:
        if is_unfinished(warehouse):
            raise LockHeld(
                f"{warehouse.root}: a change of many files was cut short; "
                "run `levelhold score` without --shard first, which finishes it"
            )
        refuse_newer(warehouse)
        yield
    finally:
        os.close(handle)
