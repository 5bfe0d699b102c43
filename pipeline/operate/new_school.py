"""A new school: an empty inbox, and a warehouse with settings to be filled in."""

from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Final

from pipeline.errors import UsageError
from pipeline.land.rows import (
    DEVICE_COLUMNS,
    ROSTER_COLUMNS,
    ROSTER_OPTIONAL,
    SESSION_COLUMNS,
    SESSION_OPTIONAL,
)
from pipeline.settings import SETTINGS_NAME
from pipeline.store import write_bytes

PAPERS: Final = {
    "roster.csv": (*ROSTER_COLUMNS, *ROSTER_OPTIONAL),
    "sessions.csv": (*SESSION_COLUMNS, *SESSION_OPTIONAL),
    "devices.csv": DEVICE_COLUMNS,
}
"""The files of an inbox that list things, with their columns."""

GUIDE_NAME: Final = "README.md"
"""How a profile is written, in the folder of profiles."""


@dataclass(frozen=True)
class NewSchool:
    """The two folders of a school, and what was written; nothing where all of it was there."""

    inbox: Path
    warehouse: Path
    written: tuple[Path, ...]


def begin_school(folder: Path, guide: bytes) -> NewSchool:
    """Make `folder` a school: inbox/ with empty lists, warehouse/ with school.toml and profiles/.

    `guide` is the text that says how a recorder's profile is written; it comes to lie among them. What is
    there already is left as it is, so that a second time changes nothing. Raises UsageError where the
    folder holds something else.
    """
    inbox, warehouse = folder / "inbox", folder / "warehouse"
    _refuse_other_content(folder, {inbox, warehouse})
    for place in (inbox / "logs", inbox / "tasks", warehouse / "profiles"):
        place.mkdir(parents=True, exist_ok=True)
    wanted = {inbox / name: f"{','.join(columns)}\n".encode() for name, columns in PAPERS.items()}
    wanted[warehouse / SETTINGS_NAME] = commented_settings().encode()
    wanted[warehouse / "profiles" / GUIDE_NAME] = guide
    missing = {path: content for path, content in wanted.items() if not path.exists()}
    for path, content in missing.items():
        write_bytes(content, path)
    return NewSchool(inbox, warehouse, tuple(missing))


def commented_settings() -> str:
    """A school.toml that sets nothing and shows, as comments, what can be set."""
    file = resources.files("pipeline.operate") / "new_school.toml"
    return file.read_text(encoding="utf-8")


def _refuse_other_content(folder: Path, allowed: set[Path]) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder}: this is a file; name a new folder")
    others = sorted(set(folder.iterdir()) - allowed) if folder.exists() else []
    if others:
        raise UsageError(
            f"{folder}: there is something else in it, as {others[0].name}; name a new folder"
        )
