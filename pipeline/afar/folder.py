"""The folder that stands for a store: what was fetched into it, and how that is known the next time."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pipeline.afar.heads import Entry
from pipeline.errors import UsageError
from pipeline.store import write_bytes

STATE: Final = ".mirror.json"
OWN: Final = ("school.toml", "profiles")
"""What the school writes itself, under plain keys: read at each command, never written."""

PAGES: Final = "pages"


@dataclass(frozen=True)
class Held:
    """A file as it was fetched or published: its bytes, and when it was last written here."""

    entry: Entry
    mtime_ns: int


@dataclass
class Holding:
    """The files of a folder that are a store's, by path; `absent` are there in name and length only."""

    files: dict[str, Held] = field(default_factory=dict)
    absent: set[str] = field(default_factory=set)


def read_holding(root: Path, address: str) -> Holding:
    """What a folder holds of the store at an address. Raises UsageError where it is something else."""
    path = root / STATE
    if not path.exists():
        if any(files_below(root)):
            raise UsageError(f"{root}: holds something else; name a new folder as --cache")
        return Holding()
    state = json.loads(path.read_text(encoding="utf-8"))
    if state["address"] != address:
        raise UsageError(f"{root}: is the cache of another warehouse; name another --cache")
    files = {p: Held(Entry(sha, size), ns) for p, (sha, size, ns) in state["files"].items()}
    return Holding(files, set(state.get("absent", ())))


def write_holding(root: Path, address: str, holding: Holding) -> None:
    """Keep what a folder holds, for `read_holding`."""
    files: Mapping[str, object] = {
        p: [h.entry.sha256, h.entry.size, h.mtime_ns] for p, h in holding.files.items()
    }
    state = {"address": address, "files": files, "absent": sorted(holding.absent)}
    write_bytes(json.dumps(state).encode(), root / STATE)


def files_below(root: Path) -> Iterator[str]:
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


def place_names(root: Path, entries: Iterable[tuple[str, Entry]]) -> None:
    """Make files of these paths and lengths that hold nothing, and take no room where the disk allows it."""
    for path, entry in entries:
        target = root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        with target.open("wb") as file:
            file.truncate(entry.size)
