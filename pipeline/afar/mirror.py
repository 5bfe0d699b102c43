"""A folder that is a store in an object store, for one command: pulled before it, published after it.

The command works on the folder with the code and the SQL that it always runs. The folder may be kept as a
cache: then only what is new is fetched. What was left in it by a run that did not publish is undone.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Final

from pipeline.afar.bucket import Bucket, side_by_side
from pipeline.afar.clearing import clear, put_pages, show_pages
from pipeline.afar.folder import (
    OWN,
    PAGES,
    Held,
    Holding,
    entry_of_file,
    files_below,
    place_names,
    read_holding,
    write_holding,
)
from pipeline.afar.heads import Entry, Files, Head, commit, newest_head, object_key
from pipeline.errors import StoreDamaged
from pipeline.store import write_bytes
from pipeline.store.absent import absent_files

GRACE: Final = timedelta(days=1)
"""How long what no head names is kept: a reader may still fetch it, a run may be about to name it."""

LATER: Final = "samples/"
"""What is fetched only when it is read: most of a store's bytes, which most commands never look at."""

_AT_WORK: Final[dict[Path, Mirror]] = {}


class Mirror:
    """A store in a bucket and the folder that stands for it. One command at a time works on a folder."""

    def __init__(self, bucket: Bucket, root: Path) -> None:
        self.bucket = bucket
        self.root = root
        self.head = Head()
        self._holding = Holding()
        self._sent: dict[str, Held] = {}

    def pull(self, *, with_samples: bool = True) -> Head:
        """Make the folder what the store is now; gives the head that it is.

        Without samples, those that are not there yet are names only until `at_work` fetches them.
        Raises UsageError where the folder is another store's, StoreDamaged where an object is gone or is
        not what was put.
        """
        self.root.mkdir(parents=True, exist_ok=True)
        before = read_holding(self.root, self.bucket.place.address)
        for path in before.absent:
            (self.root / path).unlink(missing_ok=True)
        self._holding, self._sent = Holding(before.files), {}
        self.head = newest_head(self.bucket)
        files = self.head.files
        shutil.rmtree(self.root / PAGES, ignore_errors=True)
        for path in list(files_below(self.root)):
            if path not in files or not self._is_as_held(path, files[path]):
                (self.root / path).unlink()
        missing = {path for path in files if not (self.root / path).exists()}
        absent = set() if with_samples else {path for path in missing if path.startswith(LATER)}
        side_by_side(self._fetch, sorted(missing - absent))
        place_names(self.root, ((path, files[path]) for path in sorted(absent)))
        self._fetch_own()
        self._keep({path: self._hold(path, files[path]) for path in files}, absent)
        return self.head

    @contextmanager
    def at_work(self) -> Iterator[None]:
        """During the block samples are fetched when they are read, and `mirror_at` finds this mirror."""
        place = self.root.resolve()
        _AT_WORK[place] = self
        try:
            with absent_files((self.root / path for path in self._holding.absent), self._bring):
                yield
        finally:
            del _AT_WORK[place]

    def changed(self) -> tuple[dict[str, Entry], frozenset[str]]:
        """The files that the command wrote, and the paths of those that it removed."""
        there, held = set(files_below(self.root)), self._holding.files
        new = {
            path: entry_of_file(self.root / path)
            for path in sorted(there)
            if path not in held or not self._is_as_held(path, held[path].entry)
        }
        changed = {p: e for p, e in new.items() if p not in held or held[p].entry != e}
        return changed, frozenset(held.keys() - there)

    def publish(self, *, grace: timedelta | None = GRACE, with_pages: bool = True) -> Head:
        """Put what the command changed, then make it real by one new head; gives the head there is.

        Pages go into a folder of their own before, and are shown by one small object after it. With a
        grace, what no head names any more, and is older than that, is cleared away at the end. Raises
        LockHeld where another run was faster, CannotWrite where the store does not answer: nothing of
        this run is in the store then.
        """
        changed, removed = self.changed()
        pages = put_pages(self.bucket, self.root, self.head.number + 1) if with_pages else None
        self._put(changed)
        if changed or removed:
            self.head = commit(self.bucket, self.head, changed, removed)
            kept = {p: h.entry for p, h in self._holding.files.items() if p not in removed}
            now = {path: self._hold(path, entry) for path, entry in {**kept, **changed}.items()}
            self._keep(now, self._holding.absent & now.keys())
        if pages is not None:
            show_pages(self.bucket, pages)
        # Without a grace whatever is unnamed must go, also what a run that was killed here left.
        if grace is not None and (changed or removed or pages or not grace):
            clear(self.bucket, self.head, grace, pages)
        return self.head

    def send(self, paths: Iterable[str]) -> Files:
        """See to it that these files of the folder can be fetched by others: by path, what they are.

        No head names what is put for it here, and nobody else sees it, until it is published.
        """
        wanted = set(paths)
        entries = {path: self._known(path) or entry_of_file(self.root / path) for path in wanted}
        self._put({path: entry for path, entry in entries.items() if self._known(path) is None})
        return entries

    def take(self, files: Files) -> None:
        """Fetch files that others put for this command; no head names them yet."""
        side_by_side(lambda path: fetch(self.bucket, self.root, path, files[path]), files)
        self._sent |= {path: self._hold(path, entry) for path, entry in files.items()}

    def put_file(self, path: str, entry: Entry) -> None:
        """Put the object of a file of the folder; nobody sees it before a head names it."""
        self.bucket.put(object_key(path, entry), (self.root / path).read_bytes())

    def _put(self, files: Files) -> None:
        """Put those of these files that this command did not put already."""
        new = [p for p, e in files.items() if p not in self._sent or self._sent[p].entry != e]
        side_by_side(lambda path: self.put_file(path, files[path]), new)
        self._sent |= {path: self._hold(path, files[path]) for path in new}

    def _known(self, path: str) -> Entry | None:
        """What the object of a file holds, where there is one of the file as it is here; None else."""
        for held in (self._holding.files.get(path), self._sent.get(path)):
            if held is not None and held == self._hold(path, held.entry):
                return held.entry
        return None

    def _bring(self, files: frozenset[Path]) -> None:
        """Fetch files that are there in name only."""
        root = self.root.resolve()
        paths = [path.relative_to(root).as_posix() for path in sorted(files)]
        side_by_side(self._fetch, paths)
        held = {path: self._hold(path, self.head.files[path]) for path in paths}
        self._keep(self._holding.files | held, self._holding.absent - held.keys())

    def _fetch(self, path: str) -> None:
        fetch(self.bucket, self.root, path, self.head.files[path])

    def _fetch_own(self) -> None:
        """Fetch what the school writes itself."""
        for name in OWN:
            target = self.root / name
            shutil.rmtree(target) if target.is_dir() else target.unlink(missing_ok=True)
        listed = [own.key for name in OWN for own in self.bucket.list(name)]
        for key in dict.fromkeys([OWN[0], *listed]):
            content = self.bucket.get(key)
            if content is not None:
                write_bytes(content, self.root / key)

    def _is_as_held(self, path: str, entry: Entry) -> bool:
        """Whether a file of the folder was fetched or published with these bytes and not written since."""
        held, found = self._holding.files.get(path), (self.root / path).stat()
        return held == Held(entry, found.st_mtime_ns) and found.st_size == entry.size

    def _hold(self, path: str, entry: Entry) -> Held:
        return Held(entry, (self.root / path).stat().st_mtime_ns)

    def _keep(self, files: dict[str, Held], absent: set[str]) -> None:
        self._holding = Holding(files, absent)
        write_holding(self.root, self.bucket.place.address, self._holding)


def mirror_at(root: Path) -> Mirror | None:
    """The mirror at work on a folder; None where the folder is a store itself."""
    return _AT_WORK.get(root.resolve())


def fetch(bucket: Bucket, root: Path, path: str, entry: Entry) -> None:
    """Fetch one file of a store below a folder. Raises StoreDamaged where it is not what was put."""
    content = bucket.get(object_key(path, entry))
    if content is None or hashlib.sha256(content).hexdigest() != entry.sha256:
        what = "gone" if content is None else "not what was put there"
        raise StoreDamaged(
            f"{path}: its object is {what}; if another run cleared it away meanwhile, run again, "
            "else restore the store from a backup"
        )
    write_bytes(content, root / path)
