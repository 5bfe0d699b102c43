"""What lies in an inbox: the papers, and one log and one task list per session."""

import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pipeline.land.faults import RefusedFile, make_reason, shown_path
from pipeline.land.identifiers import fault_of_identifier
from pipeline.reports import Reason, Refusal
from pipeline.store import Forgotten

NOTHING_FORGOTTEN: Final = Forgotten()
LOG_ENDINGS: Final = (".csv.gz", ".csv", ".parquet")
TASKS_ENDING: Final = (".csv",)
_LINK_SAID: Final = "this is a link that leads out of the inbox"


@dataclass(frozen=True)
class InboxFile:
    """One file of the inbox; `file` is its path in it, `ending` one of the endings above."""

    path: Path
    file: str
    session_id: str
    ending: str


@dataclass
class Inbox:
    """The files of an inbox by session, what is refused by its name alone, and what is no log at
    all.
    """

    root: Path
    forgotten: Forgotten = NOTHING_FORGOTTEN
    logs: dict[str, InboxFile] = field(default_factory=dict)
    tasks: dict[str, InboxFile] = field(default_factory=dict)
    refusals: list[Refusal] = field(default_factory=list)
    strange: list[str] = field(default_factory=list)

    def pass_over(self, session_ids: Iterable[str]) -> None:
        """Leave the files of these sessions out."""
        for session_id in session_ids:
            self.logs.pop(session_id, None)
            self.tasks.pop(session_id, None)

    def paper(self, name: str) -> Path | None:
        """The path of roster.csv and the like, None where it is not there.

        Raises RefusedFile where it is no plain file within the inbox.
        """
        path = self.root / name
        if not path.exists() and not path.is_symlink():
            return None
        reason = _fault_of_place(path, name, self.root)
        if reason is not None:
            raise RefusedFile([reason])
        return path.resolve() if path.is_symlink() else path


def look_into(root: Path, forgotten: Forgotten = NOTHING_FORGOTTEN) -> Inbox:
    """What lies in the inbox. Reads names only; hidden files and forgotten sessions are passed over."""
    inbox = Inbox(root, forgotten)
    _collect(inbox, "logs", LOG_ENDINGS, inbox.logs)
    _collect(inbox, "tasks", TASKS_ENDING, inbox.tasks)
    return inbox


def _collect(
    inbox: Inbox, folder: str, endings: tuple[str, ...], found: dict[str, InboxFile]
) -> None:
    place = inbox.root / folder
    if place.is_symlink() and _leads_out(place, inbox.root):
        outside = make_reason("not_a_file", folder, _LINK_SAID, "put the folder itself there")
        inbox.refusals.append(Refusal("file", folder, (outside,)))
        return
    for path in _visible(place):
        file = f"{folder}/{path.name}"
        ending = next((e for e in endings if path.name.lower().endswith(e)), None)
        if ending is None:
            inbox.strange.append(file)
            continue
        session_id = path.name[: -len(ending)]
        if inbox.forgotten.holds("session", session_id):
            continue
        reason = _fault(path, file, session_id, inbox.root)
        if reason is None and session_id in found:
            reason = _second(file, found[session_id].file)
        if reason is not None:
            what = "log" if folder == "logs" else "task"
            inbox.refusals.append(Refusal(what, file, (reason,)))
            continue
        plain = path.resolve() if path.is_symlink() else path
        found[session_id] = InboxFile(plain, file, session_id, ending)


def _visible(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from sorted(p for p in folder.iterdir() if not p.name.startswith("."))


def _fault(path: Path, file: str, session_id: str, root: Path) -> Reason | None:
    """Why a file is not even opened: an unsafe name, or not a plain file within the inbox."""
    fault = fault_of_identifier(session_id) if session_id else "is empty"
    if fault is not None:
        said = f"the session's name in the file name {fault}"
        return make_reason("unsafe_identifier", file, said, "rename the file", value=session_id)
    return _fault_of_place(path, file, root)


def _fault_of_place(path: Path, file: str, root: Path) -> Reason | None:
    """Why what lies at a path is no plain file within the inbox."""
    if path.is_symlink() and _leads_out(path, root):
        return make_reason("not_a_file", file, _LINK_SAID, "put the file itself there")
    if not path.exists() or not stat.S_ISREG(path.stat().st_mode):
        return make_reason("not_a_file", file, "this is no file", "put the file itself there")
    return None


def _leads_out(path: Path, root: Path) -> bool:
    try:
        return not path.resolve().is_relative_to(root.resolve())
    except (OSError, RuntimeError):
        # A link to itself leads nowhere at all.
        return True


def _second(file: str, first: str) -> Reason:
    said = f"{shown_path(first)} is there for the same session"
    return make_reason("second_log", file, said, "keep the one that counts")
