"""One run at a time: the lock that a run holds while it changes a store."""

import json
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout

from pipeline.errors import LockHeld
from pipeline.store.change import finish_change
from pipeline.store.version import refuse_newer
from pipeline.store.warehouse import Warehouse


@contextmanager
def hold_lock(warehouse: Warehouse, purpose: str, now: datetime) -> Iterator[None]:
    """Hold the warehouse's lock while the block runs; raises LockHeld at once if another process
    has it.

    The operating system frees the lock of a process that died, so nobody has to clear one by hand.
    A change of many files that such a process left half done is finished before the block begins.
    Raises StoreNewer, before anything is changed, where a newer version wrote to the store.
    The same process may hold it again inside the block. Local disks only: locks over NFS are
    unreliable.
    """
    warehouse.root.mkdir(parents=True, exist_ok=True)
    lock = FileLock(warehouse.lock_file, timeout=0, is_singleton=True)
    try:
        lock.acquire()
    except Timeout:
        raise LockHeld(told_holder(warehouse)) from None
    try:
        if lock.lock_counter == 1:
            _sign(holder_file(warehouse), purpose, now)
            refuse_newer(warehouse)
            finish_change(warehouse)
        yield
    finally:
        if lock.lock_counter == 1:
            holder_file(warehouse).unlink(missing_ok=True)
        lock.release()


def told_holder(warehouse: Warehouse) -> str:
    """Who has the lock, in a sentence for him who was refused it."""
    return _who_holds(holder_file(warehouse))


def unfinished_since(warehouse: Warehouse) -> str | None:
    """When a run began that has not ended: it is at work, or was killed; None where there is none."""
    try:
        return str(json.loads(holder_file(warehouse).read_text(encoding="utf-8"))["since"])
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, TypeError):
        # A run that was killed while it signed.
        return "an unknown time"


def holder_file(warehouse: Warehouse) -> Path:
    """Where the run that holds the lock has signed."""
    return warehouse.lock_file.with_name(".lock.json")


def _sign(path: Path, purpose: str, now: datetime) -> None:
    content = {
        "purpose": purpose,
        "pid": os.getpid(),
        "host": socket.gethostname(),
        "since": now.isoformat(),
    }
    path.write_text(json.dumps(content), encoding="utf-8")


def _who_holds(path: Path) -> str:
    try:
        holder = json.loads(path.read_text(encoding="utf-8"))
        process = f"process {holder['pid']} on {holder['host']}, since {holder['since']}"
        who = f"`levelhold {holder['purpose']}` ({process})"
    except (OSError, ValueError, KeyError):
        who = "another run"
    return (
        f"{path.parent}: {who} is at work on this warehouse; "
        "nothing was changed, try again when it has ended"
    )
