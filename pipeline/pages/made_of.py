"""What each page was made of, so that the next night makes only those anew that would come out otherwise.

Nothing but a digest of everything that goes into a page says that it need not be made again: the rows that
it may read, the sessions whose samples it draws, the words common to all pages, and the program with the
libraries that write it. It is kept beside the pages, together with a digest of what came out.
"""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Iterator
from functools import cache
from importlib import resources
from importlib.metadata import version
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

from pipeline.pages.publish import Content
from pipeline.relations import relation_files

NAME: Final = "assets/made-of.json"
"""Where among the pages it is kept."""

_LIBRARIES: Final = ("altair", "duckdb", "jinja2", "markupsafe", "pyarrow", "vl-convert-python")


@cache
def program_digest() -> str:
    """A digest of every file of this program, its SQL and the libraries that make pages of rows."""
    found = hashlib.sha256(platform.python_version().encode())
    for library in _LIBRARIES:
        found.update(f"{library} {version(library)}\n".encode())
    for name, relation in sorted(relation_files().items()):
        found.update(f"{name} {relation.text}\n".encode())
    for name, content in sorted(_files(resources.files("pipeline"))):
        found.update(f"{name} {len(content)}\n".encode() + content)
    return found.hexdigest()


def _files(folder: Traversable, at: str = "") -> Iterator[tuple[str, bytes]]:
    for item in folder.iterdir():
        if item.is_file():
            yield f"{at}{item.name}", item.read_bytes()
        elif item.name != "__pycache__":
            yield from _files(item, f"{at}{item.name}/")


def digest_of_inputs(*inputs: object) -> str:
    """A digest of plain values (rows as lists of columns, text, dates, numbers), exact to the last bit."""
    return hashlib.sha256(repr(inputs).encode("utf-8", "surrogatepass")).hexdigest()


class MadeOf:
    """What the pages that lie in a folder were made of, and what those of this night are made of."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._before = _read(folder / NAME)
        self._now: dict[str, list[str]] = {}
        self._anew: set[str] = set()

    def as_before(self, name: str, inputs: str) -> bytes | None:
        """The file as the folder has it, where it was made of the same and nobody changed it since."""
        made, came_out = self._before.get(name, ("", ""))
        path = self._folder / name
        if made != inputs or not path.is_file():
            return None
        content = path.read_bytes()
        if hashlib.sha256(content).hexdigest() != came_out:
            return None
        self._now[name] = [inputs, came_out]
        return content

    def made(self, name: str, inputs: str, content: str) -> bytes:
        """The file's bytes, now that it was made of these inputs."""
        data = content.encode()
        self._now[name] = [inputs, hashlib.sha256(data).hexdigest()]
        self._anew.add(name)
        return data

    @property
    def anew(self) -> frozenset[str]:
        """The files that were made, not taken over."""
        return frozenset(self._anew)

    def records(self) -> Iterator[tuple[str, Content]]:
        """The file that the next night reads; to be asked for last."""
        yield NAME, json.dumps(self._now, indent=0, sort_keys=True)


def _read(path: Path) -> dict[str, tuple[str, str]]:
    """The record of before; one that is not there or cannot be read counts as none: all is made anew."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        return {str(name): (str(made), str(out)) for name, (made, out) in found.items()}
    except (OSError, ValueError, AttributeError, TypeError):
        return {}
