"""What decides the bits of a figure besides its inputs: the program and the libraries that compute it."""

import hashlib
import platform
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from importlib.resources import files

from pipeline import __version__
from pipeline.relations import relation_files


@dataclass(frozen=True)
class Identity:
    """One machine's program: its version, a digest of its SQL and Python, and the libraries below it."""

    levelhold: str
    code: str
    python: str
    duckdb: str
    pyarrow: str

    def difference(self, other: "Identity") -> str:
        """What the other one has that this one has not, in words; empty where they are the same."""
        pairs = ((name, value, getattr(other, name)) for name, value in vars(self).items())
        return ", ".join(
            f"{name} {theirs} (here {ours})" for name, ours, theirs in pairs if ours != theirs
        )


@cache
def own_identity() -> Identity:
    """The identity of the program that runs in this process."""
    major, minor, _ = platform.python_version_tuple()
    return Identity(
        __version__, _code_digest(), f"{major}.{minor}", version("duckdb"), version("pyarrow")
    )


def _code_digest() -> str:
    """A digest of every relation and every module, so that two checkouts of one version are told apart."""
    found = hashlib.sha256()
    for relation in sorted(relation_files().values(), key=lambda r: r.name):
        found.update(relation.text.encode())
    for path in sorted(_modules(files("pipeline")), key=lambda item: item[0]):
        found.update(path[0].encode() + path[1])
    return found.hexdigest()[:12]


def _modules(folder: object, at: str = "") -> "list[tuple[str, bytes]]":
    """Every module below a folder of the package, by its path, with its bytes."""
    found: list[tuple[str, bytes]] = []
    for item in folder.iterdir():  # type: ignore[attr-defined]
        if item.is_dir() and not item.name.startswith("_"):
            found += _modules(item, f"{at}{item.name}/")
        elif item.name.endswith(".py"):
            found.append((f"{at}{item.name}", item.read_bytes()))
    return found
