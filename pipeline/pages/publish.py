"""Putting a folder of pages in place in one step: a reader sees the old pages or the new, never a mix."""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from pipeline.store.write import flush_folder

_AT_FDCWD: Final = -100
_EXCHANGE: Final = 2


Content = str | bytes


def publish(files: Iterable[tuple[str, Content]], target: Path, *, in_one_step: bool = True) -> int:
    """Make `target` a folder of exactly these files (by relative path); gives the bytes they take.

    Files may be made one after the other: each is written before the next one is asked for. A file that
    has not changed keeps its old copy and times. `in_one_step=False` does without the exchange of two
    folders, which not every system knows. Where a run was killed half-way, its leavings are cleared
    away first.
    """
    part, old = target.with_name(f".{target.name}.part"), target.with_name(f".{target.name}.old")
    _recover(target, part, old)
    size = sum(_write(part, target, name, content) for name, content in files)
    flush_folder(part)
    if target.exists():
        _swap(part, target, old, in_one_step)
    else:
        part.rename(target)
    flush_folder(target.parent)
    return size


def _recover(target: Path, part: Path, old: Path) -> None:
    if old.exists() and not target.exists():
        old.rename(target)
    for leaving in (part, old):
        shutil.rmtree(leaving, ignore_errors=True)
    part.mkdir(parents=True)


def _write(part: Path, target: Path, name: str, content: Content) -> int:
    data = content.encode() if isinstance(content, str) else content
    path, before = part / name, target / name
    path.parent.mkdir(parents=True, exist_ok=True)
    if before.is_file() and before.stat().st_size == len(data) and before.read_bytes() == data:
        _keep(before, path)
    else:
        with path.open("wb") as file:
            file.write(data)
            file.flush()
    return len(data)


def _keep(before: Path, path: Path) -> None:
    try:
        path.hardlink_to(before)
    except OSError:
        # A file system without links: a copy says the same.
        shutil.copy2(before, path)


def _swap(part: Path, target: Path, old: Path, in_one_step: bool) -> None:
    """Exchange the two folders; where the system cannot, rename twice, which a kill may part."""
    if in_one_step and _exchange(part, target):
        shutil.rmtree(part, ignore_errors=True)
        return
    target.rename(old)
    part.rename(target)
    shutil.rmtree(old, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two paths in one step; False where this system has no such call."""
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if not sys.platform.startswith("linux") or call is None:
        return False
    done = call(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _EXCHANGE)
    if done == 0:
        return True
    if (code := ctypes.get_errno()) in {errno.EINVAL, errno.ENOSYS, errno.EPERM}:
        return False
    raise OSError(code, os.strerror(code), str(other))
