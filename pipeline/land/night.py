"""What one look at the inbox adds up to, and how each input's fate is put on record."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Final

from pipeline.land.inbox import Inbox
from pipeline.land.known import Known
from pipeline.land.log_bytes import FileStamp
from pipeline.land.memory import Memory, RememberedFile, RememberedRefusal
from pipeline.land.night_papers import Papers
from pipeline.land.profiles import Profiles
from pipeline.land.quarantine import put_in_quarantine
from pipeline.land.reading_mark import ReadingMark
from pipeline.reports import LandedSession, LandReport, Reason, Refusal, Waiting
from pipeline.settings import Settings
from pipeline.store import Warehouse

RULES_VERSION: Final = 2
"""Raised when a rule of landing changes, so that what was refused under the old one is tried
again.
"""


@dataclass
class Night:
    """The inputs of one run and, growing, its outcome."""

    inbox: Inbox
    warehouse: Warehouse
    settings: Settings
    now: datetime
    known: Known
    papers: Papers
    before: Memory
    profiles: Profiles = field(default_factory=Profiles)
    memory: Memory = field(default_factory=Memory)
    landed: list[LandedSession] = field(default_factory=list)
    already_landed: int = 0
    waiting: list[Waiting] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    ignored: dict[str, None] = field(default_factory=dict)
    copies: int = 0
    mark: ReadingMark | None = None
    since: date | None = None
    passed_over: int = 0

    def wait(self, what: str, name: str, sentence: str) -> None:
        """Put on record that an input waits."""
        self.waiting.append(Waiting(what, name, sentence))

    def remember(self, file: str, stamp: FileStamp, sha256: str) -> None:
        """Remember a file's content by its stamp; a refusal that stands is remembered with it."""
        self.memory.files[file] = RememberedFile(stamp, sha256)

    def pass_over(self, files: Sequence[str]) -> None:
        """Leave a session for another run; what is known of its files stays remembered."""
        self.passed_over += 1
        kept = {f: self.before.files[f] for f in files if f in self.before.files}
        self.memory.files.update(kept)

    def depends_on(
        self, sha256: str, row_sha256: str, tasks_sha256: str | None, profile: str | None
    ) -> str:
        """A fingerprint of everything that a verdict on a log rests on."""
        limits = self.settings.landing.model_dump()
        parts = [RULES_VERSION, sha256, row_sha256, tasks_sha256, profile, limits]
        return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()

    def standing_refusal(self, file: str, depends_on: str) -> RememberedRefusal | None:
        """The refusal of an earlier night that still stands because nothing has changed."""
        seen = self.before.files.get(file)
        if seen is None or seen.refusal is None or seen.refusal.depends_on != depends_on:
            return None
        return seen.refusal

    def refuse_log(
        self, path: Path, file: str, session_id: str, reasons: Sequence[Reason], depends_on: str
    ) -> None:
        """Refuse a log: a copy to quarantine, the verdict to memory, a line in the report."""
        copy = self.quarantine(path, file, reasons)
        self.refusals.append(Refusal("log", file, tuple(reasons), session_id, True, copy))
        seen = self.memory.files[file]
        verdict = RememberedRefusal(depends_on, tuple(reasons), copy)
        self.memory.files[file] = RememberedFile(seen.stamp, seen.sha256, verdict)

    def refuse_again(self, file: str, session_id: str, refusal: RememberedRefusal) -> None:
        """Say that a refusal stands, unchanged."""
        again = Refusal("log", file, refusal.reasons, session_id, False, refusal.quarantined_as)
        self.refusals.append(again)
        seen = self.memory.files[file]
        self.memory.files[file] = RememberedFile(seen.stamp, seen.sha256, refusal)

    def refuse_told(self, found: Sequence[Refusal]) -> None:
        """Refusals that come up on every night while the fault stands: new only the first time."""
        for refusal in found:
            sentences = "\n".join(reason.sentence for reason in refusal.reasons)
            key = hashlib.sha256(sentences.encode("utf-8", "surrogatepass")).hexdigest()
            self.memory.told.add(key)
            is_new = key not in self.before.told
            copy = self._copy_for(refusal, found) if is_new else None
            self.refusals.append(
                Refusal(
                    refusal.what, refusal.file, refusal.reasons, refusal.session_id, is_new, copy
                )
            )

    def _copy_for(self, refusal: Refusal, found: Sequence[Refusal]) -> str | None:
        """A copy of the file with the reasons of all refusals in it; what is no plain file has
        none.
        """
        path = self.inbox.root / refusal.file
        if path.is_symlink() or not path.is_file():
            return None
        same_file = [reason for r in found if r.file == refusal.file for reason in r.reasons]
        return self.quarantine(path, refusal.file, same_file)

    def quarantine(self, path: Path, file: str, reasons: Sequence[Reason]) -> str | None:
        """Where the copy of a refused file lies; None where the file itself cannot be opened."""
        limit = self.settings.landing.max_log_mb
        gone = self.inbox.forgotten
        self.copies += 1
        return put_in_quarantine(
            self.warehouse,
            path,
            file,
            reasons,
            self.now.date(),
            limit,
            gone.holds_any if gone else None,
        )

    def report(self, batch_id: str | None, swept: int) -> LandReport:
        """The outcome, in a steady order."""
        return LandReport(
            batch_id=batch_id,
            started_at=self.now,
            landed=tuple(self.landed),
            already_landed=self.already_landed,
            waiting=tuple(self.waiting),
            refusals=tuple(self.refusals),
            warnings=tuple(self.warnings),
            ignored_columns=tuple(self.ignored),
            roster_rows=len(self.papers.new_students),
            device_rows=len(self.papers.new_devices),
            swept_files=swept,
            passed_over=self.passed_over,
        )
