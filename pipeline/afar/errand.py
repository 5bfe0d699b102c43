"""Units whose files lie in an object store, on a cluster whose workers fetch and put them there themselves.

The one who asks puts what only he has, so that every file is an object; a worker fetches those that its
unit reads, measures in a folder of its own, and puts what came of it; the one who asked fetches that and,
as ever, makes it all real by one new head. Objects hold the digest of their bytes, so that a unit that
was begun twice harms nothing.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any, Final

from pipeline.afar.bucket import Bucket, Place, side_by_side
from pipeline.afar.folder import entry_of_file
from pipeline.afar.heads import Files, object_key
from pipeline.afar.mirror import Mirror, fetch
from pipeline.measure import Unit
from pipeline.measure.inputs import files_read, files_written

KEPT_BYTES: Final = 4_000_000_000
"""How much of what it fetched a worker keeps for its next units."""

_FETCHING: Final = Lock()
Work = Callable[[tuple[Unit, ...]], Any]


@dataclass(frozen=True)
class Errand:
    """A group of units for a worker, with every file that they read: by its path, what it holds."""

    place: Place
    files: Files
    work: Work
    group: tuple[Unit, ...]


@dataclass(frozen=True)
class Brought:
    """What the work gave, and the files that it wrote, each an object by now."""

    outcome: Any
    files: Files


class FromObjectStore(Executor):
    """The workers of a cluster, for units of a store in an object store."""

    def __init__(self, cluster: Executor, mirror: Mirror) -> None:
        self._cluster = cluster
        self._mirror = mirror

    def map(
        self,
        fn: Callable[..., Any],
        *iterables: Iterable[Any],
        timeout: float | None = None,
        chunksize: int = 1,
    ) -> Iterator[Any]:
        """The outcome for each group of units, in their order; what was written is in the folder by then."""
        [groups] = ([*groups] for groups in iterables)
        root, place = self._mirror.root.resolve(), self._mirror.bucket.place
        read = [[_path_below(root, file) for file in files_read(group)] for group in groups]
        files = self._mirror.send(path for paths in read for path in paths)
        errands = [
            Errand(place, {path: files[path] for path in paths}, fn, group)
            for group, paths in zip(groups, read, strict=True)
        ]
        for brought in self._cluster.map(run_errand, errands):
            self._mirror.take(brought.files)
            yield brought.outcome


def run_errand(errand: Errand) -> Brought:
    """On a worker: do the work where its files are fetched to, and put what it wrote.

    Raises what the work raises, CannotWrite where the store does not answer, StoreDamaged where an object
    is not what was put.
    """
    from distributed import get_worker

    here = Path(get_worker().local_directory) / "levelhold"
    return _run_in(errand, here)


def _run_in(errand: Errand, here: Path) -> Brought:
    bucket, kept = _bucket(errand.place), here / "objects"
    kept.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=here) as name:
        root = Path(name)
        with _FETCHING:
            _lay_out(bucket, errand.files, kept, root)
            _trim(kept)
        outcome = errand.work(tuple(_moved(unit, root) for unit in errand.group))
        written = files_written(tuple(_moved(unit, root) for unit in errand.group))
        files = {_path_below(root, file): entry_of_file(file) for file in written}
        side_by_side(
            lambda path: bucket.put(object_key(path, files[path]), (root / path).read_bytes()),
            files,
        )
    return Brought(outcome, files)


def _lay_out(bucket: Bucket, files: Files, kept: Path, root: Path) -> None:
    """Make the folder of a store that holds these files and no others, fetching what is not kept."""
    missing = [path for path, entry in files.items() if not (kept / entry.sha256).exists()]
    side_by_side(lambda path: fetch(bucket, root, path, files[path]), missing)
    for path, entry in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        if path in missing:
            os.link(root / path, kept / entry.sha256)
        else:
            os.link(kept / entry.sha256, root / path)
            os.utime(kept / entry.sha256)
    for path in files:
        # A batch counts where its sessions file is there; those of other batches are not read.
        commits = root / "sessions" / Path(path).name
        commits.parent.mkdir(exist_ok=True)
        commits.touch()


def _trim(kept: Path) -> None:
    """Remove what was longest not used, where more is kept than may be."""
    found = sorted(((p, p.stat()) for p in kept.iterdir()), key=lambda pair: pair[1].st_mtime_ns)
    excess = sum(stat.st_size for _, stat in found) - KEPT_BYTES
    for path, stat in found:
        if excess <= 0:
            return
        path.unlink()
        excess -= stat.st_size


def _moved(unit: Unit, root: Path) -> Unit:
    """The unit, its files below another folder."""
    return replace(unit, root=root, samples_file=root / _path_below(unit.root, unit.samples_file))


def _path_below(root: Path, file: Path) -> str:
    return file.relative_to(root).as_posix()


@cache
def _bucket(place: Place) -> Bucket:
    return Bucket(place)
