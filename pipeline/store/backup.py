"""A copy of all that cannot be derived, proven byte for byte against the digests of the store."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pipeline.errors import StoreDamaged, UsageError
from pipeline.store.audit import audit_store
from pipeline.store.sweep import sweep
from pipeline.store.warehouse import PART_SUFFIX, Warehouse
from pipeline.store.write import flush_folder

_DERIVED: Final = ("measures", "pages")


@dataclass(frozen=True)
class BackupReport:
    """What was copied where: how many files and bytes."""

    folder: Path
    files: int
    size_bytes: int


def back_up(source: Warehouse, folder: Path) -> BackupReport:
    """Copy a store into a folder that is new or empty: a store like any other, without measures and pages.

    Only for the holder of the source's lock. The folder becomes real by one rename once every file is
    on disk and the copy has no fault. The way back is the same: copy the backup into a new folder.
    Raises UsageError where something else is in the folder, StoreDamaged where the store has a fault.
    """
    _require_room(source, folder)
    if (source.root / "sessions").is_dir():
        sweep(source)
    part = folder.with_name(f".{folder.name}{PART_SUFFIX}")
    shutil.rmtree(part, ignore_errors=True)
    try:
        part.mkdir(parents=True)
        sizes = [_copy(path, part / path.relative_to(source.root)) for path in _kept(source.root)]
        _prove(Warehouse(part))
        _flush_folders(part)
        if folder.exists():
            folder.rmdir()
        part.rename(folder)
        flush_folder(folder.parent)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return BackupReport(folder, len(sizes), sum(sizes))


def _require_room(source: Warehouse, folder: Path) -> None:
    if folder.resolve().is_relative_to(source.root.resolve()):
        raise UsageError(f"{folder}: lies within the store that is to be copied; name another")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(f"{folder}: there is something in it; name a new folder")


def _kept(root: Path) -> Iterator[Path]:
    """Every file that belongs in a copy: sessions last, so that even a copy cut short holds no half batch."""
    files = [
        path
        for path in sorted(root.rglob("*"))
        if path.is_file() and not path.is_symlink() and _belongs(path.relative_to(root))
    ]
    yield from (path for path in files if path.parent.name != "sessions")
    yield from (path for path in files if path.parent.name == "sessions")


def _belongs(file: Path) -> bool:
    return file.parts[0] not in _DERIVED and not any(part.startswith(".") for part in file.parts)


def _copy(source: Path, target: Path) -> int:
    target.parent.mkdir(parents=True, exist_ok=True)
    with source.open("rb") as given, target.open("wb") as taken:
        shutil.copyfileobj(given, taken, 1 << 20)
        taken.flush()
        os.fsync(taken.fileno())
    shutil.copystat(source, target)
    return target.stat().st_size


def _prove(copy: Warehouse) -> None:
    faults = audit_store(copy)
    if faults:
        raise StoreDamaged(
            f"{faults[0].sentence}; {len(faults)} such faults in all, and nothing was copied; "
            "run `levelhold check` on the store to see how to mend them"
        )


def _flush_folders(root: Path) -> None:
    for folder in (root, *(path for path in root.rglob("*") if path.is_dir())):
        flush_folder(folder)
