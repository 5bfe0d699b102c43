"""The folder of one school's store: which file lies where, and which files count."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

PART_SUFFIX: Final = ".part"
"""Ending of a file that is still being written; no reader looks at it."""


@dataclass(frozen=True)
class Warehouse:
    """The paths below one warehouse folder. Reading needs no lock: only committed batches are
    listed.

    A batch is committed when sessions/<batch_id>.parquet is there. Everything else that bears the
    batch's name was written before it.
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
    def memory_file(self) -> Path:
        """What landing remembers of inbox files; may be deleted, at the cost of reading them
        again.
        """
        return self.root / "inbox_memory.json"

    @property
    def lock_file(self) -> Path:
        """The lock that a run holds while it changes the store."""
        return self.root / ".lock"

    def samples_path(self, session_date: date, batch_id: str) -> Path:
        """Where one batch keeps the samples of one session date."""
        return self.samples / f"session_date={session_date.isoformat()}" / f"{batch_id}.parquet"

    def table_path(self, kind: str, batch_id: str) -> Path:
        """Where one batch keeps its rows of sessions, tasks, roster or devices."""
        return self.root / kind / f"{batch_id}.parquet"

    def seal_path(self, batch_id: str) -> Path:
        """Where the digest of a committed batch's sessions file lies."""
        return self.sessions / f"{batch_id}.sha256"

    def committed_batches(self) -> tuple[str, ...]:
        """The ids of all committed batches, oldest first."""
        return tuple(sorted(path.stem for path in self.sessions.glob("b*.parquet")))

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
