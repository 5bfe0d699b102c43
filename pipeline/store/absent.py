"""Samples files whose bytes are not in the store's folder yet: fetched when somebody is about to read them.

In the folder of a school all files are there, and nothing happens here. A folder that stands for a store
elsewhere holds, for a samples file that nobody asked for yet, an empty file of the right name and length:
enough for all that only counts files. Whoever reads samples calls `bring` first; who forgets to meets a
file that is no Parquet file, and says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

Fetch = Callable[[frozenset[Path]], None]


@dataclass(frozen=True)
class _Absent:
    """The files of one folder that are not there yet, by their full paths, and how they are fetched."""

    files: set[Path]
    fetch: Fetch


_ABSENT: Final[list[_Absent]] = []
"""What the stores that this process has open lack; a store's folder is known here by its files."""


@contextmanager
def absent_files(files: Iterable[Path], fetch: Fetch) -> Iterator[None]:
    """During the block `bring` fetches these files; `fetch` is given those wanted, by their full paths."""
    entry = _Absent({path.resolve() for path in files}, fetch)
    _ABSENT.append(entry)
    try:
        yield
    finally:
        _ABSENT.remove(entry)


def bring(files: Iterable[Path]) -> None:
    """See to it that the bytes of these files, or of those that they link to, are there."""
    if not _ABSENT:
        return
    wanted = {path.resolve() for path in files}
    for entry in _ABSENT:
        if missing := frozenset(wanted & entry.files):
            entry.fetch(missing)
            entry.files.difference_update(missing)


def are_here(files: Iterable[Path]) -> bool:
    """Whether the bytes of all these files are there."""
    return not _ABSENT or not any(
        entry.files & {path.resolve() for path in files} for entry in _ABSENT
    )
