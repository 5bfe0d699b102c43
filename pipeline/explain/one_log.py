"""One log landed and measured in a store that is thrown away: no warehouse needed, the same SQL."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import pyarrow as pa

from pipeline.errors import UsageError
from pipeline.explain.rows import rows_of
from pipeline.land import land_inbox
from pipeline.land.inbox import LOG_ENDINGS
from pipeline.land.log_start import start_of_log
from pipeline.land.profiles import load_profile
from pipeline.measure import measure_warehouse
from pipeline.reading import open_warehouse
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store import Warehouse

SESSION = "debrief"
STUDENT = "student"
DEVICE = "device"

_NEUTRALS = pa.schema(
    [
        ("device_id", pa.string()),
        ("session_date", pa.date32()),
        ("pitch_neutral", pa.float64()),
        ("spread", pa.float64()),
        ("neutral_se", pa.float64()),
        ("student_count", pa.int64()),
        ("neutral_reason", pa.string()),
    ]
)


@dataclass(frozen=True)
class Debrief:
    """What to debrief: a log, what was asked for, and what is known of the device.

    `neutral` is where the device's pitch control rests (a fraction of travel); without it held
    control and settling are unknown. `profile` is a file that reads a recorder's own columns.
    `settings` maps `stage` to a standard. `started_at` is the session's start; by default the log's
    first moment, else noon of `day`, else `now`, which carries a zone.
    """

    log: Path
    now: datetime
    tasks: Path | None = None
    neutral: float | None = None
    control: str = "centring"
    profile: Path | None = None
    stage: str = ""
    started_at: datetime | None = None
    day: date | None = None
    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True)
class LandedLog:
    """A log in a store of its own, or `warehouse` None where it was refused.

    `known` are tables to bind when the store is opened (the device's neutral, where it was given);
    `refusals` are sentences on what was not taken.
    """

    warehouse: Warehouse | None
    known: Mapping[str, pa.Table]
    refusals: tuple[str, ...]


@contextmanager
def landed_log(asked: Debrief) -> Iterator[LandedLog]:
    """Land and measure one log; its store is gone when the block ends.

    Raises UsageError where there is no such log, task list or profile, or where nothing tells the
    session's start; SettingsError where the profile is not valid.
    """
    ending = _checked_ending(asked)
    started_at = _start(asked)
    with tempfile.TemporaryDirectory(prefix="levelhold-") as folder:
        inbox = _write_inbox(asked, Path(folder) / "inbox", ending, started_at)
        warehouse = Warehouse(Path(folder) / "warehouse")
        if asked.profile is not None:
            profiles = warehouse.root / "profiles"
            profiles.mkdir(parents=True)
            shutil.copyfile(asked.profile, profiles / asked.profile.name)
        report = land_inbox(inbox, warehouse, asked.settings, started_at)
        refused = tuple(in_own_names(asked, said) for said in _refused(report))
        if not report.landed:
            waiting = tuple(in_own_names(asked, w.sentence) for w in report.waiting)
            yield LandedLog(None, {}, refused or waiting)
            return
        known = _known_neutral(asked.neutral, started_at.date())
        measure_warehouse(warehouse, asked.settings, known=known)
        yield LandedLog(warehouse, known, refused)


def in_own_names(asked: Debrief, sentence: str) -> str:
    """A sentence on a file of the throw-away inbox, with the name that the caller knows it by."""
    if asked.tasks is not None:
        sentence = sentence.replace(f"tasks/{SESSION}.csv", asked.tasks.name)
    for ending in LOG_ENDINGS:
        sentence = sentence.replace(f"logs/{SESSION}{ending}", asked.log.name)
    return sentence


def _checked_ending(asked: Debrief) -> str:
    """The kind of log, by its name, once all files that are asked for are there."""
    ending = next((e for e in LOG_ENDINGS if asked.log.name.lower().endswith(e)), None)
    if not asked.log.is_file() or ending is None:
        raise UsageError(
            f"{asked.log}: there is no such log; a log ends in {', '.join(LOG_ENDINGS)}"
        )
    for path, kind in ((asked.tasks, "task list"), (asked.profile, "profile")):
        if path is not None and not path.is_file():
            raise UsageError(f"{path}: there is no such {kind}")
    if asked.profile is not None and asked.profile.suffix != ".toml":
        raise UsageError(f"{asked.profile}: a profile is a TOML file, its name ends in .toml")
    return ending


def _start(asked: Debrief) -> datetime:
    """When the session began: as given, as the log tells, or on the day, or now."""
    profile = None if asked.profile is None else load_profile(asked.profile)
    if asked.started_at is not None:
        return asked.started_at
    if profile is not None and profile.time.form == "clock":
        raise UsageError(
            f"{asked.log.name}: its clock tells no date; give the session's start with --started-at"
        )
    told = start_of_log(asked.log, profile, asked.settings.landing)
    if told is not None:
        return told
    if asked.day is not None:
        return datetime(asked.day.year, asked.day.month, asked.day.day, 12, tzinfo=UTC)
    return asked.now


def _write_inbox(asked: Debrief, inbox: Path, ending: str, started_at: datetime) -> Path:
    (inbox / "logs").mkdir(parents=True)
    stage = asked.stage.replace('"', "")
    recorder = "" if asked.profile is None else asked.profile.stem
    lists = {
        "roster.csv": "student_id,cohort,start_date,stage\n"
        f'{STUDENT},debrief,{started_at.date()},"{stage}"\n',
        "sessions.csv": "session_id,student_id,started_at,device_id,recorder\n"
        f"{SESSION},{STUDENT},{started_at.isoformat()},{DEVICE},{recorder}\n",
        "devices.csv": "device_id,device_class,control,valid_from\n"
        f"{DEVICE},simulator,{asked.control},\n",
    }
    for name, text in lists.items():
        (inbox / name).write_text(text, encoding="utf-8")
    shutil.copyfile(asked.log, inbox / "logs" / f"{SESSION}{ending}")
    if asked.tasks is not None:
        (inbox / "tasks").mkdir()
        shutil.copyfile(asked.tasks, inbox / "tasks" / f"{SESSION}.csv")
    return inbox


def _known_neutral(neutral: float | None, day: date) -> Mapping[str, pa.Table]:
    """device_neutrals as the caller knows them; nothing where the neutral is not known."""
    if neutral is None:
        return {}
    row = {"device_id": DEVICE, "session_date": day, "pitch_neutral": neutral}
    return {"device_neutrals": pa.Table.from_pylist([row], schema=_NEUTRALS)}


def _refused(report: LandReport) -> Iterator[str]:
    for refusal in report.refusals:
        yield from (reason.sentence for reason in refusal.reasons)


def neutral_of(warehouse: Warehouse, settings: Settings, device_id: str) -> float:
    """The newest neutral that a warehouse knows of a device. Raises UsageError where it knows none."""
    con = open_warehouse(warehouse, settings, ["device_neutrals"])
    rows = rows_of(
        con,
        "SELECT pitch_neutral FROM device_neutrals "
        "WHERE device_id = ? AND pitch_neutral IS NOT NULL ORDER BY session_date DESC LIMIT 1",
        [device_id],
    )
    if not rows:
        raise UsageError(f"the warehouse knows no neutral of device {device_id}")
    return float(rows[0]["pitch_neutral"])
