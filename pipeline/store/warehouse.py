"""The folder of one school's store: which file lies where, and which files count."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

PART_SUFFIX: Final = ".part"
"""Ending of a file that is still being written; no reader looks at it."""

REPLACES_SUFFIX: Final = ".replaces"
"""Ending of the list of batches that a compacted batch stands for, one id a line."""


@dataclass(frozen=True)
class Warehouse:
    """The paths below one warehouse folder. Reading needs no lock: only committed batches are
    listed.

    A batch is committed when sessions/<batch_id>.parquet is there. Everything else that bears the
    batch's name was written before it. Beside the sessions file of a compacted batch lies, until they are
    removed, the list of the batches that it replaces: from its commit on they count no more.
    """

    root: Path

    @property
    def settings_file(self) -> Path:
        """The school's settings (may be absent)."""
        return self.root / "school.toml"

    @property
    def samples(self) -> Path:
        """The folder of samples, one subfolder per session date."""
        return self.root / "samples"

    @property
    def sessions(self) -> Path:
        """The folder whose files commit a batch."""
        return self.root / "sessions"

    @property
    def reviews(self) -> Path:
        """What instructors acknowledged, set aside, withdrew or reassigned."""
        return self.root / "reviews"

    @property
    def measures(self) -> Path:
        """Derived figures; may be deleted."""
        return self.root / "measures"

    @property
    def quarantine(self) -> Path:
        """Copies of refused files, each with its reasons beside it."""
        return self.root / "quarantine"

    @property
    def runs(self) -> Path:
        """What each run did."""
        return self.root / "runs"

    @property
    def pages(self) -> Path:
        """The pages of the latest night."""
        return self.root / "pages"

    @property
    def releases(self) -> Path:
        """What is on record of each export."""
        return self.root / "releases"

    @property
    def forgotten(self) -> Path:
        """Keyed hashes of forgotten identifiers, and the key."""
        return self.root / "forgotten"

    @property
    def change_folder(self) -> Path:
        """Where a change of many files is prepared, and its record while it is carried out."""
        return self.root / ".change"

    @property
    def memory_file(self) -> Path:
        """What landing remembers of inbox files; may be deleted, at the cost of reading them
        again.
        """
        return self.root / "inbox_memory.json"

    @property
    def lock_file(self) -> Path:
        """The lock that a run holds while it changes the store."""
        return self.root / ".lock"

    @property
    def readers_file(self) -> Path:
        """The lock that all readers share."""
        return self.root / ".readers"

    def samples_path(self, session_date: date, batch_id: str) -> Path:
        """Where one batch keeps the samples of one session date."""
        return self.samples / f"session_date={session_date.isoformat()}" / f"{batch_id}.parquet"

    def table_path(self, kind: str, batch_id: str) -> Path:
        """Where one batch keeps its rows of sessions, tasks, roster or devices."""
        return self.root / kind / f"{batch_id}.parquet"

    def seal_path(self, batch_id: str) -> Path:
        """Where the digest of a committed batch's sessions file lies."""
        return self.sessions / f"{batch_id}.sha256"

    def replaces_path(self, batch_id: str) -> Path:
        """Where the ids of the batches lie that a compacted batch replaces."""
        return self.sessions / f"{batch_id}{REPLACES_SUFFIX}"

    def run_reports(self) -> tuple[Path, ...]:
        """The reports of all runs, oldest first; the second of one second bears -2, the tenth -10."""

        def order(path: Path) -> tuple[str, int]:
            stamp, _, number = path.stem.partition("-")
            return stamp, int(number) if number.isdecimal() else 1

        return tuple(sorted(self.runs.glob("r*.json"), key=order))

    def committed_batches(self) -> tuple[str, ...]:
        """The ids of all committed batches that no other one replaces, oldest first."""
        found, replaced = self._batches()
        gone = {batch_id for ids in replaced.values() for batch_id in ids}
        return tuple(sorted(found - gone))

    def replaced_batches(self) -> Mapping[str, tuple[str, ...]]:
        """By each compacted batch whose forerunners are still to be removed, their ids."""
        return self._batches()[1]

    def _batches(self) -> tuple[set[str], dict[str, tuple[str, ...]]]:
        """Batches with a sessions file, and the lists of those replaced; looked at until they stand still.

        A list is written before its batch and removed after what it names, and a folder cannot be read in
        one step: so the lists are read after the files, and the files once more after the lists.
        """
        while True:
            found = {path.stem for path in self.sessions.glob("b*.parquet")}
            lists = sorted(self.sessions.glob(f"b*{REPLACES_SUFFIX}"))
            try:
                replaced = {
                    path.stem: tuple(path.read_text(encoding="utf-8").split())
                    for path in lists
                    if path.stem in found
                }
            except FileNotFoundError:
                continue
            if found == {path.stem for path in self.sessions.glob("b*.parquet")}:
                return found, replaced

    def snapshot(self) -> "Snapshot":
        """The same store, held to the batches and reviews that are there now."""
        return Snapshot(self.root, self.committed_batches(), self.table_files("reviews"))

    def sample_files(self) -> tuple[Path, ...]:
        """The samples files of committed batches, by date, then batch."""
        committed = set(self.committed_batches())
        found = self.samples.glob("session_date=*/b*.parquet")
        return tuple(sorted(path for path in found if path.stem in committed))

    def table_files(self, kind: str) -> tuple[Path, ...]:
        """The files of one small table, oldest first: of committed batches only (reviews are no
        batch).
        """
        if kind == "reviews":
            return tuple(sorted(self.reviews.glob("*.parquet")))
        committed = set(self.committed_batches())
        return tuple(
            sorted(p for p in (self.root / kind).glob("b*.parquet") if p.stem in committed)
        )


@dataclass(frozen=True)
class Snapshot(Warehouse):
    """A store as one moment found it: what is committed while a reader reads stays out of its sight."""

    batches: tuple[str, ...] = ()
    review_files: tuple[Path, ...] = ()

    def committed_batches(self) -> tuple[str, ...]:
        """The batches of that moment, oldest first."""
        return self.batches

    def table_files(self, kind: str) -> tuple[Path, ...]:
        """The files of that moment."""
        return self.review_files if kind == "reviews" else super().table_files(kind)
