"""Heads: which objects are the store at one moment. A store in an object store is a row of them.

A head lists every file of the store with its digest. Objects never change: a key holds the digest of its
bytes. So all that a run brings is put first, seen by nobody, and becomes real together by creating the
next head, under a number that only one can create. Nothing can be seen half; who comes second is told so.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Final

from pipeline.afar.bucket import Bucket
from pipeline.errors import LockHeld, StoreDamaged, StoreNewer

FORM: Final = 1
FOLDER: Final = "heads"


@dataclass(frozen=True)
class Entry:
    """The bytes of one file of a store."""

    sha256: str
    size: int


Files = Mapping[str, Entry]


@dataclass(frozen=True)
class Head:
    """The store at one moment: every file of it by its path; number 0 is a store before its first."""

    number: int = 0
    files: Files = field(default_factory=dict)


def object_key(path: str, entry: Entry) -> str:
    """Where the bytes of a file lie: its path, with their digest in the name, so that none is overwritten."""
    place = PurePosixPath("files") / path
    return f"{place.parent}/{place.stem}.{entry.sha256[:16]}{place.suffix}"


def head_key(number: int) -> str:
    """Where a head lies: names sort by number."""
    return f"{FOLDER}/{number:010d}.json"


def numbers(bucket: Bucket) -> list[int]:
    """The numbers of the heads there are, ascending."""
    names = (PurePosixPath(listed.key).stem for listed in bucket.list(FOLDER))
    return sorted(int(name) for name in names if name.isdecimal())


def newest_head(bucket: Bucket) -> Head:
    """The store as it is now. Raises StoreDamaged or StoreNewer where its head cannot be read."""
    while True:
        there = numbers(bucket)
        if not there:
            return Head()
        content = bucket.get(head_key(there[-1]))
        if content is not None:
            return head_of(content, there[-1])


def head_of(content: bytes, number: int) -> Head:
    """The head that an object holds. Raises StoreDamaged or StoreNewer where it cannot be read."""
    try:
        read = json.loads(content)
        if read["form"] > FORM:
            raise StoreNewer(
                f"{head_key(number)}: written by a newer version of levelhold; nothing was changed: "
                "install the newer version again"
            )
        return Head(number, {path: Entry(*entry) for path, entry in read["files"].items()})
    except (ValueError, KeyError, TypeError) as error:
        raise StoreDamaged(
            f"{head_key(number)}: cannot be read; remove it, and the head before it is the store again"
        ) from error


def commit(bucket: Bucket, base: Head, changed: Files, removed: frozenset[str]) -> Head:
    """Make changes to `base` real, of which every object is put; gives the new head.

    Where others were faster, theirs is kept and these are added to it, if they speak of other files and
    not both of batches. Raises LockHeld where they do not go together: then nothing was changed.
    """
    current = base
    while True:
        files = {p: e for p, e in current.files.items() if p not in removed} | dict(changed)
        head = Head(current.number + 1, dict(sorted(files.items())))
        if bucket.create(head_key(head.number), content_of(head)):
            if numbers(bucket)[-1] == head.number:
                return head
            # A run that slept so long that the heads after its own base were cleared away.
            bucket.delete([head_key(head.number)])
            raise _outrun(bucket)
        current = newest_head(bucket)
        if current == head:
            # It was put, and only the answer was lost: the second try met its own head.
            return head
        if not go_together(base, current, changed, removed):
            raise _outrun(bucket)


def go_together(base: Head, current: Head, changed: Files, removed: frozenset[str]) -> bool:
    """Whether changes to `base` may be added to what others made of it: other files, not both batches."""
    paths = base.files.keys() | current.files.keys()
    theirs = {p for p in paths if base.files.get(p) != current.files.get(p)}
    mine = {*changed, *removed}
    clash = {p for p in theirs & mine if current.files.get(p) != changed.get(p)}
    return not clash and not (_has_batches(theirs) and _has_batches(mine))


def _has_batches(paths: set[str]) -> bool:
    return any(path.startswith("sessions/") for path in paths)


def content_of(head: Head) -> bytes:
    """What the object of a head holds."""
    files = {path: [entry.sha256, entry.size] for path, entry in head.files.items()}
    return json.dumps({"form": FORM, "files": files}, separators=(",", ":")).encode()


def _outrun(bucket: Bucket) -> LockHeld:
    return LockHeld(
        f"{bucket.place.address}: another run changed this warehouse meanwhile; "
        "nothing of this one is in it: run again"
    )
