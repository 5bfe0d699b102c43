"""What the last night brought, in one line, and which files it refused and why."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pipeline.pages.words import day, many
from pipeline.reports import LandReport
from pipeline.store.warehouse import Warehouse


@dataclass(frozen=True)
class RefusedInput:
    """One file or row that was not taken, with a sentence for each reason."""

    file: str
    session_id: str | None
    is_new: bool
    sentences: tuple[str, ...]

    @property
    def faults(self) -> tuple[str, ...]:
        """The sentences as they stand beside the file's name: without it."""
        return tuple(
            sentence.removeprefix(self.file).lstrip(",: ") or sentence
            for sentence in self.sentences
        )


@dataclass(frozen=True)
class LastRun:
    """The landing of one run."""

    started_at: datetime
    landed: int
    already_landed: int
    refused: tuple[RefusedInput, ...]
    waiting: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def new_refused(self) -> int:
        """How many inputs were refused for the first time."""
        return sum(refusal.is_new for refusal in self.refused)

    @property
    def line(self) -> str:
        """The run in one line."""
        when = f"{day(self.started_at)}, {self.started_at:%H:%M} UTC"
        refused = f"{many(len(self.refused), 'input')} refused"
        known = len(self.refused) - self.new_refused
        if known:
            refused += f" ({known} of them known from earlier nights)"
        return (
            f"Last run {when}: {many(self.landed, 'new session')} taken, {refused}, "
            f"{many(len(self.waiting), 'input')} waiting."
        )


def from_landing(report: LandReport) -> LastRun:
    """The run that is under way, from its landing."""
    return LastRun(
        started_at=report.started_at,
        landed=len(report.landed),
        already_landed=report.already_landed,
        refused=tuple(
            RefusedInput(
                refusal.file,
                refusal.session_id,
                refusal.is_new,
                tuple(reason.sentence for reason in refusal.reasons),
            )
            for refusal in report.refusals
        ),
        waiting=tuple(waiting.sentence for waiting in report.waiting),
        warnings=report.warnings,
    )


def newest_run(warehouse: Warehouse) -> LastRun | None:
    """The newest run that left a report in the warehouse; None where none did."""
    reports = warehouse.run_reports()
    if not reports:
        return None
    told: Mapping[str, Any] = json.loads(reports[-1].read_text(encoding="utf-8"))
    return LastRun(
        started_at=datetime.fromisoformat(told["started_at"]),
        landed=len(told["landed"]),
        already_landed=told["already_landed"],
        refused=tuple(_refusals(told["refused"])),
        waiting=tuple(waiting["sentence"] for waiting in told["waiting"]),
        warnings=tuple(told["warnings"]),
    )


def _refusals(told: Sequence[Mapping[str, Any]]) -> Iterable[RefusedInput]:
    for refusal in told:
        sentences = tuple(reason["sentence"] for reason in refusal["reasons"])
        yield RefusedInput(refusal["file"], refusal["session_id"], refusal["is_new"], sentences)
