"""The key file: the random codes that stand for students and devices, release by release.

It lies outside the store and outside every export, readable by its owner only, and never leaves the
school. Codes are drawn at random and not derived from identifiers, so nobody can work them out or
turn them back (as 34 CFR 99.31(b) asks of codes in released records). Each release draws new codes
unless it is linked to another.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyarrow as pa

from pipeline.errors import StoreDamaged, UsageError

_FORMAT = 1
_SCHEMA = pa.schema([("kind", pa.string()), ("id", pa.string()), ("code", pa.string())])
_PREFIX = {"student": "P", "device": "D"}


def random_code() -> str:
    """Eight hexadecimal digits from the operating system's source of randomness."""
    return secrets.token_hex(4)


@dataclass
class Keys:
    """The codes of all releases by release, kind and identifier; `links` names the release whose
    codes one shares.
    """

    path: Path
    codes: dict[str, dict[str, dict[str, str]]] = field(default_factory=dict)
    links: dict[str, str] = field(default_factory=dict)

    def owner_of(self, release_id: str) -> str:
        """The release whose codes `release_id` uses: its own, or the first of its chain."""
        owner = self.links.get(release_id, release_id)
        if owner not in self.codes:
            raise UsageError(f"{self.path.name}: holds no codes of release {release_id}")
        return owner

    def linked_releases(self, release_id: str) -> frozenset[str]:
        """All releases that use the same codes as `release_id`, itself included."""
        owner = self.owner_of(release_id)
        return frozenset({owner, *(r for r, first in self.links.items() if first == owner)})

    def draw(
        self,
        release_id: str,
        linked_to: str | None,
        wanted: Mapping[str, Iterable[str]],
        code: Callable[[], str] = random_code,
    ) -> None:
        """Give `release_id` codes for the identifiers wanted (by kind): those of the link, new ones
        for the rest.
        """
        if linked_to is not None:
            self.links[release_id] = self.owner_of(linked_to)
        held = self.codes.setdefault(self.links.get(release_id, release_id), {})
        for kind, ids in wanted.items():
            known = held.setdefault(kind, {})
            fresh = _fresh(_PREFIX[kind], set(known.values()), code)
            known.update({i: next(fresh) for i in sorted(set(ids) - known.keys())})

    def table(self, release_id: str) -> pa.Table:
        """The relation pseudonyms of one release."""
        held = self.codes[self.owner_of(release_id)]
        rows = [
            {"kind": kind, "id": i, "code": c}
            for kind, ids in sorted(held.items())
            for i, c in sorted(ids.items())
        ]
        return pa.Table.from_pylist(rows, schema=_SCHEMA)

    def save(self) -> None:
        """Write the file anew, atomically, readable by its owner only."""
        content = {"format": _FORMAT, "codes": self.codes, "links": self.links}
        aside = self.path.with_name(f".{self.path.name}.part")
        handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(content, file, indent=1, sort_keys=True)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(self.path)


def _fresh(prefix: str, taken: set[str], code: Callable[[], str]) -> Iterator[str]:
    while True:
        drawn = f"{prefix}{code()}"
        if drawn not in taken:
            taken.add(drawn)
            yield drawn


def read_keys(path: Path) -> Keys:
    """The keys in a file; none where there is no file yet. Raises StoreDamaged where it is no key
    file.
    """
    if not path.exists():
        return Keys(path)
    try:
        content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if content["format"] != _FORMAT:
            raise ValueError("of another format")
        return Keys(path, content["codes"], content["links"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreDamaged(
            f"{path.name}: not a readable key file; restore it from a backup"
        ) from error
