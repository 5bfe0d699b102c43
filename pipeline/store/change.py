"""Changing many files as one act: prepared aside, made real by one record, carried out until it is done.

A kill before the record leaves the store as it was; a kill after it leaves the rest to the next run,
which finishes it before anything else. Carrying out only renames and removes, so it needs no room on
the disk.
"""

import json
import shutil
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from pipeline.errors import StoreDamaged
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import flush_folder, write_bytes

_RECORD: Final = "record.json"
_NEW: Final = "new"


class Change:
    """New files and removals that become real together on `commit`, in the order in which they were added.

    Only for the holder of the lock. Leaving the `with` block without a commit changes nothing.
    """

    def __init__(self, warehouse: Warehouse) -> None:
        self._warehouse = warehouse
        self._put: list[str] = []
        self._remove: list[str] = []

    def __enter__(self) -> Self:
        shutil.rmtree(self._warehouse.change_folder, ignore_errors=True)
        return self

    @property
    def put_files(self) -> tuple[str, ...]:
        """The files that are written anew, by their paths in the store."""
        return tuple(self._put)

    @property
    def removed_files(self) -> tuple[str, ...]:
        """The files and folders that go, by their paths in the store."""
        return tuple(self._remove)

    def put(self, path: Path) -> Path:
        """Where to write the file that is to take the place of `path`; to be written whole and flushed."""
        file = path.relative_to(self._warehouse.root).as_posix()
        self._put.append(file)
        return self._warehouse.change_folder / _NEW / file

    def put_bytes(self, content: bytes, path: Path) -> None:
        """Put `content` at `path`."""
        write_bytes(content, self.put(path))

    def remove(self, path: Path) -> None:
        """Remove a file, or a folder with all that is in it."""
        self._remove.append(path.relative_to(self._warehouse.root).as_posix())

    def commit(self) -> None:
        """Make the change real and carry it out."""
        record = {"put": self._put, "remove": self._remove}
        content = json.dumps(record, indent=1).encode()
        write_bytes(content, self._warehouse.change_folder / _RECORD)
        finish_change(self._warehouse)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if not is_unfinished(self._warehouse):
            shutil.rmtree(self._warehouse.change_folder, ignore_errors=True)


def is_unfinished(warehouse: Warehouse) -> bool:
    """Whether a change was made real and not yet wholly carried out."""
    return (warehouse.change_folder / _RECORD).exists()


def finish_change(warehouse: Warehouse) -> bool:
    """Carry out what a change has left to do, or clear away one that was never made real; whether it was.

    Only for the holder of the lock. Raises StoreDamaged where a prepared file is gone.
    """
    folder = warehouse.change_folder
    if not folder.exists():
        return False
    has_record = is_unfinished(warehouse)
    if has_record:
        record = json.loads((folder / _RECORD).read_text(encoding="utf-8"))
        touched = {_put_in_place(warehouse, file) for file in record["put"]}
        touched |= {_remove(warehouse.root / file) for file in record["remove"]}
        for parent in sorted(touched):
            if parent.is_dir():
                flush_folder(parent)
        (folder / _RECORD).unlink()
        flush_folder(folder)
    shutil.rmtree(folder)
    return has_record


def _put_in_place(warehouse: Warehouse, file: str) -> Path:
    new, target = warehouse.change_folder / _NEW / file, warehouse.root / file
    if new.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        new.replace(target)
    elif not target.exists():
        raise StoreDamaged(f"{file}: lost while it was being changed; restore it from a backup")
    return target.parent


def _remove(path: Path) -> Path:
    if path.is_dir():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)
    return path.parent
