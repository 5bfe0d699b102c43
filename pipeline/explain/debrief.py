"""One log right after the lesson: no warehouse, the same SQL, in words an instructor can say."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.errors import UsageError
from pipeline.explain.rows import Row, rows_of
from pipeline.explain.words import (
    degrees,
    feet,
    heading,
    plain,
    push_or_pull,
    seconds,
    span,
    travel,
)
from pipeline.land import land_inbox
from pipeline.measure import measure_warehouse
from pipeline.reading import open_warehouse
from pipeline.reports import LandReport
from pipeline.settings import Settings
from pipeline.store import Warehouse

SESSION = "debrief"
DEVICE = "device"
_ENDINGS = (".csv", ".csv.gz", ".parquet")

RELATIONS = (
    "maneuvers",
    "sessions",
    "altitude_hold",
    "heading_hold",
    "maneuver_scores",
    "excursions",
    "steadiness",
    "held_control",
    "trim_settling",
    "session_gates",
    "limits",
)


@dataclass(frozen=True)
class Debrief:
    """What to debrief: a log, what was asked for, and what is known of the device.

    `neutral` is where the device's pitch control rests (a fraction of travel); without it held
    control and settling are unknown. `settings` maps `stage` to a standard.
    """

    log: Path
    tasks: Path | None = None
    neutral: float | None = None
    control: str = "centring"
    recorder: str | None = None
    stage: str = ""
    started_at: datetime | None = None
    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True)
class DebriefAnswer:
    """The words, a line each; empty `lines` with `refusals` where the log was refused."""

    lines: tuple[str, ...]
    refusals: tuple[str, ...]


def debrief_log(asked: Debrief) -> DebriefAnswer:
    """What one log shows: each maneuver in words, what was held, what trim was missing.

    Nothing is kept. Raises UsageError where there is no such log.
    """
    ending = next((e for e in _ENDINGS if asked.log.name.endswith(e)), None)
    if not asked.log.is_file() or ending is None:
        raise UsageError(
            f"{asked.log}: there is no such log; a log ends in .csv, .csv.gz or .parquet"
        )
    if asked.tasks is not None and not asked.tasks.is_file():
        raise UsageError(f"{asked.tasks}: there is no such task list")
    with tempfile.TemporaryDirectory(prefix="levelhold-") as folder:
        inbox = _inbox_for(asked, Path(folder) / "inbox", ending)
        warehouse = Warehouse(Path(folder) / "warehouse")
        now = asked.started_at or datetime.now(UTC)
        report = land_inbox(inbox, warehouse, asked.settings, now)
        refused = tuple(_refused(report))
        if not report.landed:
            return DebriefAnswer((), refused or tuple(w.sentence for w in report.waiting))
        known = _known_neutral(asked, now.date())
        measure_warehouse(warehouse, asked.settings, known=known)
        con = open_warehouse(warehouse, asked.settings, RELATIONS, extra=known)
        return DebriefAnswer(tuple(_lines(con, asked)), refused)


def _inbox_for(asked: Debrief, inbox: Path, ending: str) -> Path:
    (inbox / "logs").mkdir(parents=True)
    now = (asked.started_at or datetime.now(UTC)).isoformat()
    stage = asked.stage.replace('"', "")
    day = now[:10]
    _write(
        inbox / "roster.csv",
        f'student_id,cohort,start_date,stage\nstudent,debrief,{day},"{stage}"\n',
    )
    _write(
        inbox / "sessions.csv",
        "session_id,student_id,started_at,device_id,recorder\n"
        f"{SESSION},student,{now},{DEVICE},{asked.recorder or ''}\n",
    )
    _write(
        inbox / "devices.csv",
        f"device_id,device_class,control,valid_from\n{DEVICE},simulator,{asked.control},\n",
    )
    shutil.copyfile(asked.log, inbox / "logs" / f"{SESSION}{ending}")
    if asked.tasks is not None:
        (inbox / "tasks").mkdir()
        shutil.copyfile(asked.tasks, inbox / "tasks" / f"{SESSION}.csv")
    return inbox


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")


def _known_neutral(asked: Debrief, day: date) -> Mapping[str, pa.Table]:
    """device_neutrals as the caller knows them; nothing where the neutral is not known."""
    if asked.neutral is None:
        return {}
    row = {
        "device_id": DEVICE,
        "session_date": day,
        "pitch_neutral": asked.neutral,
        "spread": None,
        "neutral_se": None,
        "student_count": None,
        "neutral_reason": None,
    }
    return {"device_neutrals": pa.Table.from_pylist([row], schema=_neutral_schema())}


def _neutral_schema() -> pa.Schema:
    return pa.schema(
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


def _refused(report: LandReport) -> Iterator[str]:
    for refusal in report.refusals:
        yield from (reason.sentence for reason in refusal.reasons)


def _lines(con: duckdb.DuckDBPyConnection, asked: Debrief) -> Iterator[str]:
    maneuvers = rows_of(con, _MANEUVERS)
    yield from _session_line(con, asked)
    if not maneuvers:
        yield "No maneuver was found: give the task list with --tasks to say what was asked for."
    for row in maneuvers:
        yield from _maneuver(row)
    yield from _trim_words(con, maneuvers)
    yield "This informs an instructor and replaces none."


_MANEUVERS = """
    SELECT
        m.*,
        a.altitude_bias_ft, a.altitude_hold95_ft, a.altitude_hold_reason,
        h.heading_bias_deg, h.heading_hold95_deg, h.heading_hold_reason,
        c.held_control, c.held_force_n, c.is_untrimmed, c.held_control_reason,
        t.trim_settle_s, t.is_settled, t.trim_set_s, t.is_set, t.followed_s, t.settling_reason,
        s.control_reversals_per_min, s.trim_inputs,
        ra.tolerance_ratio AS altitude_ratio, ra.tolerance AS altitude_tolerance, ra.is_met AS altitude_met,
        rh.tolerance_ratio AS heading_ratio, rh.tolerance AS heading_tolerance, rh.is_met AS heading_met
    FROM maneuvers AS m
    LEFT JOIN altitude_hold AS a ON m.maneuver_id = a.maneuver_id
    LEFT JOIN heading_hold AS h ON m.maneuver_id = h.maneuver_id
    LEFT JOIN held_control AS c ON m.maneuver_id = c.maneuver_id
    LEFT JOIN trim_settling AS t ON m.maneuver_id = t.maneuver_id
    LEFT JOIN steadiness AS s ON m.maneuver_id = s.maneuver_id
    LEFT JOIN maneuver_scores AS ra ON m.maneuver_id = ra.maneuver_id AND ra.aspect = 'altitude'
    LEFT JOIN maneuver_scores AS rh ON m.maneuver_id = rh.maneuver_id AND rh.aspect = 'heading'
    ORDER BY m.start_s
"""


def _session_line(con: duckdb.DuckDBPyConnection, asked: Debrief) -> Iterator[str]:
    [session] = rows_of(con, "SELECT * FROM sessions")
    yield (
        f"{asked.log.name}: {seconds(session['duration_s'])} of flight, "
        f"{seconds(session['observed_s'])} observed"
    )
    for gate in rows_of(con, "SELECT * FROM session_gates ORDER BY severity, gate"):
        yield f"  {gate['severity']}: {gate['detail']}"


def _maneuver(row: Row) -> Iterator[str]:
    name = row["kind"].replace("_", " ")
    asked = [
        words
        for words in (
            None if row["target_altitude_ft"] is None else feet(row["target_altitude_ft"]),
            None
            if row["target_heading_deg"] is None
            else f"heading {heading(row['target_heading_deg'])}",
        )
        if words is not None
    ]
    basis = "" if row["basis"] == "assigned" else " (found in the log)"
    yield f"{span(row['start_s'], row['end_s'])}: {name}{basis}, {', '.join(asked) or 'no target'}"
    if row["kind"] == "level":
        yield from _held(row)
    if row["kind"] in {"level_off", "power_change"}:
        yield from _settled(row)


def _held(row: Row) -> Iterator[str]:
    if row["altitude_hold95_ft"] is not None:
        yield (
            f"  altitude held within {feet(row['altitude_hold95_ft'])} for 95 % of the time, on average "
            f"{feet(row['altitude_bias_ft'], signed=True)}{_against(row, 'altitude')}"
        )
    if row["heading_hold95_deg"] is not None:
        yield (
            f"  heading held within {degrees(row['heading_hold95_deg'])} for 95 % of the time, on average "
            f"{degrees(row['heading_bias_deg'], signed=True)}{_against(row, 'heading')}"
        )
    if row["basis"] == "inferred":
        yield "  the targets are where the student settled, not what was asked for: this flatters"
    if not row["is_scored"]:
        yield f"  not scored: {row['not_scored_reason']}"
    if row["held_control"] is not None:
        words = push_or_pull(row["held_control"]) if row["is_untrimmed"] else "trimmed"
        yield f"  held control {travel(row['held_control'], signed=True)}: {words}"
    elif row["held_force_n"] is not None:
        words = push_or_pull(row["held_force_n"]) if row["is_untrimmed"] else "trimmed"
        yield f"  held force {plain(row['held_force_n'], 1)} N: {words}"


def _against(row: Row, aspect: str) -> str:
    if row[f"{aspect}_ratio"] is None:
        return ""
    say = feet if aspect == "altitude" else degrees
    met = {True: "standard met", False: "standard not met", None: "cannot say"}[
        row[f"{aspect}_met"]
    ]
    return f"; {plain(row[f'{aspect}_ratio'])} of +-{say(row[f'{aspect}_tolerance'])}, {met}"


def _settled(row: Row) -> Iterator[str]:
    if row["is_settled"] is None:
        yield f"  settling unknown: {row['settling_reason']}"
    elif row["is_settled"]:
        yield f"  settled after {seconds(row['trim_settle_s'])}"
    elif row["is_set"]:
        yield f"  trimmed and left alone after {seconds(row['trim_set_s'])}, still breathing at the end"
    else:
        yield f"  not settled within the {seconds(row['followed_s'])} in which it could have begun"


def _trim_words(con: duckdb.DuckDBPyConnection, maneuvers: list[Row]) -> Iterator[str]:
    """One sentence on trim over all level maneuvers, or why nothing can be said."""
    levels = [row for row in maneuvers if row["kind"] == "level"]
    held = [row["held_control"] for row in levels if row["held_control"] is not None]
    if not levels:
        return
    if not held:
        reasons = {row["held_control_reason"] for row in levels} - {None}
        yield f"Trim: cannot say ({'; '.join(sorted(reasons)) or 'a free control'})."
        return
    mean = sum(held) / len(held)
    many = sum(row["is_untrimmed"] for row in levels if row["is_untrimmed"] is not None)
    one_way = all(h > 0 for h in held) or all(h < 0 for h in held)
    if many == 0:
        yield f"Trim: nothing to speak of was held in {len(held)} level maneuvers."
    elif one_way:
        yield (
            f"Trim: held in {many} of {len(held)} level maneuvers, "
            f"on average {travel(mean, signed=True)}, {push_or_pull(mean)}."
        )
    else:
        yield f"Trim: held in {many} of {len(held)} level maneuvers, now one way, now the other."


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
