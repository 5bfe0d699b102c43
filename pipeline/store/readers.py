"""Knowing whether somebody reads a store, so that files they may still open are left to a later run.

A reader shares a lock and never waits; who removes files asks for it alone and, where somebody reads,
leaves the removal for later. The operating system frees the share of a process that ended.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipeline.store.warehouse import Warehouse


@dataclass
class _Share:
    """This process's hold on one store's readers' lock; None where there is no such file to lock."""

    handle: int | None
    is_reader: bool = False


def note_reader(warehouse: Warehouse) -> None:
    """Let it be known, until this process ends, that it reads the store. Never waits.

    To be called before looking which batches there are. Where files are being removed this moment, it is
    those that nobody who looks now will find, so nothing is lost by going on.
    """
    share = _share(warehouse.readers_file.absolute())
    share.is_reader = _lock(share, fcntl.LOCK_SH) or share.is_reader


@contextmanager
def without_readers(warehouse: Warehouse) -> Iterator[bool]:
    """Whether no other process reads the store; none can begin unnoticed while the block runs."""
    share = _share(warehouse.readers_file.absolute())
    is_alone = share.handle is None or _lock(share, fcntl.LOCK_EX)
    try:
        yield is_alone
    finally:
        _lock(share, fcntl.LOCK_SH if share.is_reader else fcntl.LOCK_UN)


@cache
def _share(file: Path) -> _Share:
    try:
        return _Share(os.open(file, os.O_RDONLY | os.O_CREAT | os.O_CLOEXEC, 0o666))
    except OSError:
        # A store that cannot be written to: nobody can remove anything from it either.
        return _Share(None)


def _lock(share: _Share, how: int) -> bool:
    if share.handle is None:
        return False
    try:
        fcntl.flock(share.handle, how | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
