"""How the school's store stands: the last night, what was refused or waits, its size, who is flagged."""

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from pipeline.operate.flags import FlagLine, standing_flags
from pipeline.operate.moved import Moved
from pipeline.operate.moved_words import moved_of
from pipeline.operate.preview import Preview, stale_count
from pipeline.operate.run_reports import Failure, last_failure, newest_report
from pipeline.reading import open_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse
from pipeline.store.lock import unfinished_since

PARTS: Final = ("samples", "sessions", "tasks", "measures", "pages", "quarantine", "runs")
"""The folders whose size is told; what else there is counts into the total."""


@dataclass(frozen=True)
class LastNight:
    """What the newest run report says in short; `took_s` is None where an older version did not tell."""

    run_id: str
    version: str
    started_at: datetime
    exit_code: int
    landed: int
    took_s: float | None


@dataclass(frozen=True)
class StandingRefusal:
    """One input that the last night found refused, every reason as a sentence, and where its copy lies."""

    file: str
    sentences: tuple[str, ...]
    quarantined_as: str | None


@dataclass(frozen=True)
class LapsedNote:
    """A maneuver that was set aside before its session came anew, and why that holds no longer."""

    maneuver_id: str
    reason: str


@dataclass(frozen=True)
class StoreSize:
    """What the store holds, and the bytes it takes by part and in all; `free_bytes` is its disk's room.

    `newest_date` is the date of the newest session, None where there is none.
    """

    sessions: int
    newest_date: date | None
    batches: int
    bytes_by_part: Mapping[str, int]
    total_bytes: int
    free_bytes: int


@dataclass(frozen=True)
class Status:
    """All that an operator asks of a store in the morning.

    `last_night` is None where no run left a report; `failure` is that of a later night.
    `unfinished_since` is the start of a run that is at work, or that was killed. `moved` is what the last
    night told of a change of definitions. `waits` are sentences
    by kind of waiting. `preview` is None where no inbox was named.
    """

    last_night: LastNight | None
    failure: Failure | None
    unfinished_since: str | None
    moved: Moved | None
    refused: tuple[StandingRefusal, ...]
    waits: tuple[tuple[str, str], ...]
    size: StoreSize
    to_measure: int
    flags: tuple[FlagLine, ...]
    undecided: tuple[str, ...]
    lapsed: tuple[LapsedNote, ...]
    preview: Preview | None = None


def look_at(warehouse: Warehouse, settings: Settings, preview: Preview | None = None) -> Status:
    """The state of a warehouse; nothing is written. `preview` is told where the inbox was looked at too."""
    told, standing = newest_report(warehouse), standing_flags(warehouse, settings)
    return Status(
        None if told is None else _last_night(told),
        last_failure(warehouse),
        unfinished_since(warehouse),
        None if told is None else moved_of(told),
        () if told is None else tuple(_refusals(told["refused"])),
        () if told is None else tuple((w["what"], w["sentence"]) for w in told["waiting"]),
        _size(warehouse, settings),
        stale_count(warehouse, settings),
        standing.flags,
        standing.undecided,
        _lapsed(warehouse, settings),
        preview,
    )


def _last_night(told: Mapping[str, Any]) -> LastNight:
    times = told.get("took")
    return LastNight(
        told["run_id"],
        told["version"],
        datetime.fromisoformat(told["started_at"]),
        told["exit_code"],
        len(told["landed"]),
        None if times is None else round(sum(times.values()), 3),
    )


def _refusals(told: Sequence[Mapping[str, Any]]) -> list[StandingRefusal]:
    return [
        StandingRefusal(
            refusal["file"],
            tuple(reason["sentence"] for reason in refusal["reasons"]),
            refusal["quarantined_as"],
        )
        for refusal in told
    ]


def _lapsed(warehouse: Warehouse, settings: Settings) -> tuple[LapsedNote, ...]:
    con = open_warehouse(warehouse, settings, ["reviews"])
    query = (
        "SELECT DISTINCT noted_maneuver_id, lapsed_reason FROM reviews "
        "WHERE kind = 'set-aside' AND lapsed_reason IS NOT NULL ORDER BY ALL"
    )
    return tuple(LapsedNote(*row) for row in con.execute(query).fetchall())


def _size(warehouse: Warehouse, settings: Settings) -> StoreSize:
    con = open_warehouse(warehouse, settings, ["sessions"])
    ((sessions, newest),) = con.execute(
        "SELECT COUNT(*), MAX(session_date) FROM sessions"
    ).fetchall()
    parts = {name: _bytes_below(warehouse.root / name) for name in PARTS}
    return StoreSize(
        sessions,
        newest,
        len(warehouse.committed_batches()),
        parts,
        _bytes_below(warehouse.root),
        shutil.disk_usage(warehouse.root).free,
    )


def _bytes_below(folder: Path) -> int:
    """The bytes of all files below a folder; one that vanishes while a run is at work counts nothing."""
    total = 0
    for path in folder.rglob("*"):
        try:
            total += path.stat().st_size if path.is_file() else 0
        except FileNotFoundError:
            continue
    return total
