"""A folder that is a store in an object store, for one command: pulled before it, published after it.

The command works on the folder with the code and the SQL that it always runs. The folder may be kept as a
cache: then only what is new is fetched. What was left in it by a run that did not publish is undone.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from pipeline.afar.bucket import Bucket, side_by_side
from pipeline.afar.heads import Entry, Head, commit, head_key, newest_head, numbers, object_key
from pipeline.errors import StoreDamaged, UsageError
from pipeline.store import write_bytes

STATE: Final = ".mirror.json"
OWN: Final = ("school.toml", "profiles")
"""What the school writes itself, under plain keys: read at each command, never written."""

PAGES: Final = "pages"
GRACE: Final = timedelta(days=1)
"""How long what no head names is kept: a reader may still fetch it, a run may be about to name it."""

_KINDS: Final = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
}


@dataclass(frozen=True)
class Held:
    """A file as it was fetched or published: its bytes, and when it was last written here."""

    entry: Entry
    mtime_ns: int


class Mirror:
    """A store in a bucket and the folder that stands for it. One command at a time works on a folder."""

    def __init__(self, bucket: Bucket, root: Path) -> None:
        self.bucket = bucket
        self.root = root
        self.head = Head()
        self._held: dict[str, Held] = {}

    def pull(self) -> Head:
        """Make the folder what the store is now; gives the head that it is.

        Raises UsageError where the folder is another store's, StoreDamaged where an object is gone or is
        not what was put.
        """
        self.root.mkdir(parents=True, exist_ok=True)
        self._held = self._read_state()
        self.head = newest_head(self.bucket)
        files = self.head.files
        shutil.rmtree(self.root / PAGES, ignore_errors=True)
        for path in list(_files_below(self.root)):
            if path not in files or not self._is_as_held(path, files[path]):
                (self.root / path).unlink()
                self._held.pop(path, None)
        missing = [path for path in files if not (self.root / path).exists()]
        side_by_side(self._fetch, missing)
        self._fetch_own()
        self._held = {path: self._hold(path, files[path]) for path in files}
        self._write_state()
        return self.head

    def changed(self) -> tuple[dict[str, Entry], frozenset[str]]:
        """The files that the command wrote, and the paths of those that it removed."""
        there = set(_files_below(self.root))
        new = {
            path: entry_of_file(self.root / path)
            for path in sorted(there)
            if path not in self._held or not self._is_as_held(path, self._held[path].entry)
        }
        same = {p for p, e in new.items() if p in self._held and self._held[p].entry == e}
        return {p: e for p, e in new.items() if p not in same}, frozenset(self._held.keys() - there)

    def publish(self, *, grace: timedelta | None = GRACE) -> Head:
        """Put what the command changed, then make it real by one new head; gives the head there is.

        Pages go into a folder of their own before, and are shown by one small object after it. With a
        grace, what no head names any more, and is older than that, is cleared away at the end. Raises
        LockHeld where another run was faster, CannotWrite where the store does not answer: nothing of
        this run is in the store then.
        """
        changed, removed = self.changed()
        pages = self._put_pages()
        side_by_side(lambda path: self.put_file(path, changed[path]), changed)
        if changed or removed:
            self.head = commit(self.bucket, self.head, changed, removed)
            kept = {p: h.entry for p, h in self._held.items() if p not in removed} | changed
            self._held = {path: self._hold(path, entry) for path, entry in kept.items()}
            self._write_state()
        if pages is not None:
            self.bucket.put(f"{PAGES}/index.html", _pointer(pages), _KINDS[".html"])
        if grace is not None and (changed or removed or pages):
            self._clear(grace, pages)
        return self.head

    def put_file(self, path: str, entry: Entry) -> None:
        """Put the object of a file of the folder; nobody sees it before a head names it."""
        self.bucket.put(object_key(path, entry), (self.root / path).read_bytes())

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

    def _put_pages(self) -> str | None:
        """Put the pages that the command wrote, if it did; gives the folder that they are in."""
        root = self.root / PAGES
        files = sorted(p for p in root.rglob("*") if p.is_file()) if root.is_dir() else []
        if not files:
            return None
        lines = (f"{entry_of_file(p).sha256} {p.relative_to(root)}\n" for p in files)
        digest = hashlib.sha256("".join(lines).encode()).hexdigest()[:12]
        folder = f"{self.head.number + 1:010d}-{digest}"
        side_by_side(
            lambda p: self.bucket.put(
                f"{PAGES}/{folder}/{p.relative_to(root).as_posix()}",
                p.read_bytes(),
                _KINDS.get(p.suffix, "application/octet-stream"),
            ),
            files,
        )
        return folder

    def _clear(self, grace: timedelta, pages: str | None) -> None:
        """Remove what nobody needs: heads but the newest, objects that no head names, pages not shown."""
        before = datetime.now(UTC) - grace
        old = {head_key(n) for n in numbers(self.bucket) if n < self.head.number}
        doomed = [o.key for o in self.bucket.list("heads") if o.key in old and o.put_at <= before]
        named = {object_key(path, entry) for path, entry in self.head.files.items()}
        doomed += [
            o.key for o in self.bucket.list("files") if o.key not in named and o.put_at <= before
        ]
        if pages is not None:
            shown = (f"{PAGES}/index.html", f"{PAGES}/{pages}/")
            doomed += [
                o.key
                for o in self.bucket.list(PAGES)
                if not o.key.startswith(shown) and o.put_at <= before
            ]
        self.bucket.delete(doomed)

    def _is_as_held(self, path: str, entry: Entry) -> bool:
        """Whether a file of the folder was fetched or published with these bytes and not written since."""
        held, found = self._held.get(path), (self.root / path).stat()
        return held == Held(entry, found.st_mtime_ns) and found.st_size == entry.size

    def _hold(self, path: str, entry: Entry) -> Held:
        return Held(entry, (self.root / path).stat().st_mtime_ns)

    def _read_state(self) -> dict[str, Held]:
        path = self.root / STATE
        if not path.exists():
            if any(_files_below(self.root)):
                raise UsageError(f"{self.root}: holds something else; name a new folder as --cache")
            return {}
        state = json.loads(path.read_text(encoding="utf-8"))
        if state["address"] != self.bucket.place.address:
            raise UsageError(
                f"{self.root}: is the cache of another warehouse; name another --cache"
            )
        return {p: Held(Entry(sha, size), ns) for p, (sha, size, ns) in state["files"].items()}

    def _write_state(self) -> None:
        files = {p: [h.entry.sha256, h.entry.size, h.mtime_ns] for p, h in self._held.items()}
        place = self.bucket.place
        state: Mapping[str, Any] = {
            "address": place.address,
            "files": files,
        }
        write_bytes(json.dumps(state).encode(), self.root / STATE)


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


def _files_below(root: Path) -> Iterator[str]:
    """The files that make the store, by their paths: no locks, no pages, nothing of the school's own."""
    for path in root.rglob("*"):
        parts = path.relative_to(root).parts
        is_hidden = any(part.startswith(".") for part in parts)
        if not is_hidden and parts[0] not in (PAGES, *OWN) and path.is_file():
            yield "/".join(parts)


def entry_of_file(path: Path) -> Entry:
    """The digest and size of a file."""
    content = path.read_bytes()
    return Entry(hashlib.sha256(content).hexdigest(), len(content))


def _pointer(folder: str) -> bytes:
    """The page that leads to the pages of the last night."""
    return (
        '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>levelhold</title>'
        f'<meta http-equiv="refresh" content="0; url={folder}/index.html">'
        f'<p><a href="{folder}/index.html">The pages of the last night</a></p></html>\n'
    ).encode()
