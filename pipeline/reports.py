"""The outcome of a unit of work, as plain frozen values that any floor may hand upward."""

from collections import Counter
from dataclasses import asdict, dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any


class Outcome(StrEnum):
    """How one unit of work ended."""

    DONE = "done"
    CURRENT = "current"
    REFUSED = "refused"
    FAILED = "failed"


@dataclass(frozen=True)
class UnitReport:
    """One unit of work (a file), how it ended, and in one sentence why where it did not end
    well.
    """

    unit: str
    outcome: Outcome
    detail: str | None = None
    took_s: float | None = None


@dataclass(frozen=True)
class WorkReport:
    """The outcomes of all units of one kind of work."""

    units: tuple[UnitReport, ...] = ()

    def count(self, outcome: Outcome) -> int:
        """How many units ended so."""
        return Counter(unit.outcome for unit in self.units)[outcome]


@dataclass(frozen=True)
class Reason:
    """One fault of one input: where it is, the rule it breaks, and what to do, in one sentence.

    `row` is the line of a text file counted from 1 (its heading is line 1) or the row of a Parquet
    file counted from 1; None where the fault is not in one row. `value` is cut to a short text.
    """

    rule: str
    sentence: str
    file: str
    row: int | None = None
    column: str | None = None
    value: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """The same as plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class Refusal:
    """One input that was not taken, with every reason.

    `what` is "log", "row" or "task". `is_new` is False where the same fault was reported on an
    earlier night and nothing has changed since. `quarantined_as` is the copy's path within the
    warehouse.
    """

    what: str
    file: str
    reasons: tuple[Reason, ...]
    session_id: str | None = None
    is_new: bool = True
    quarantined_as: str | None = None


@dataclass(frozen=True)
class LandedSession:
    """One session that was taken. `changed` names what differs from the revision before (empty: the
    first).
    """

    session_id: str
    revision: int
    session_date: str
    sample_count: int
    changed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Waiting:
    """One input that waits: for a log ("awaited"), a row ("unclaimed"), a student or a recorder
    profile.
    """

    what: str
    name: str
    sentence: str


@dataclass(frozen=True)
class LandReport:
    """What one look at the inbox took, left waiting, refused and noticed.

    `batch_id` is None where the night brought nothing new. `already_landed` counts sessions that
    lie in the inbox unchanged. `warnings` are sentences; `ignored_columns` are named once for the
    whole run. `passed_over` counts sessions that a run was told to leave for another one.
    """

    batch_id: str | None
    started_at: datetime
    landed: tuple[LandedSession, ...] = ()
    already_landed: int = 0
    waiting: tuple[Waiting, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    warnings: tuple[str, ...] = ()
    ignored_columns: tuple[str, ...] = ()
    roster_rows: int = 0
    device_rows: int = 0
    swept_files: int = 0
    passed_over: int = 0

    @property
    def new_refusals(self) -> tuple[Refusal, ...]:
        """What was refused in this run and not already, unchanged, in an earlier one."""
        return tuple(refusal for refusal in self.refusals if refusal.is_new)


@dataclass(frozen=True)
class Finding:
    """One thing wrong in a store or its data: the check, where, what, and how to mend it.

    Where it is no damage, the next night mends it by itself.
    """

    check: str
    file: str
    sentence: str
    mend: str
    is_damage: bool = True
