"""An invented school, written straight into a store, whose pages tests draw.

Codes and labels try to break out of a page: landing would refuse some of them, pages must withstand all.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pyarrow as pa

from pipeline.measure import measure_warehouse
from pipeline.reading import school_settings
from pipeline.schema.tables import TABLES
from pipeline.store import Warehouse, write_bytes, write_parquet
from tests.flights import Log, Task, stored_tables

NOW = datetime(2026, 3, 28, 2, 0, tzinfo=UTC)
START = date(2026, 2, 2)
BATCH = "b20260327T020000Z-0000aa"
OWNED = "</script><script>window.owned = 1</script>"
"""A label that runs if a page forgets to escape it."""

WILD_STUDENT = f"Z9 {OWNED}"
WILD_LESSON = f"levels {OWNED}<img src=x onerror='window.owned=1'>"
COHORTS = ("alpha", "beta & <b>")
STAGES = {"alpha": "first", COHORTS[1]: "second"}
"""The two cohorts are held to different standards."""
LEFT_STUDENT = "TL01"
SECONDS = 260
TASKS = (
    Task(0.0, 70.0),
    Task(75.0, 145.0, target_heading_deg=360.0),
    Task(150.0, 259.0, kind="level_off", target_altitude_ft=3500.0, target_heading_deg=360.0),
)

DEMONSTRATED = (*TASKS[:2], Task(150.0, 220.0, target_altitude_ft=3500.0, flown_by="instructor"))
"""The same with a demonstration at its end."""


@dataclass(frozen=True)
class Pilot:
    """How a student flies: the size of the wander in altitude and heading, and what is held."""

    student_id: str
    cohort: str
    altitude_ft: float = 45.0
    heading_deg: float = 4.0
    held: float = 0.0
    sessions: int = 5
    left_on: date | None = None


def pilots(count: int = 10) -> list[Pilot]:
    """The students: a few who differ, one with a wild code, the rest alike; and one more, who has left."""
    usual = [Pilot(f"TH{n:02d}", COHORTS[n % 2]) for n in range(1, count + 1)]
    different = {
        "TH01": Pilot("TH01", "alpha", altitude_ft=420.0),
        "TH03": Pilot("TH03", COHORTS[1], heading_deg=48.0),
        "TH04": Pilot("TH04", "alpha", sessions=1),
        "TH05": Pilot("TH05", COHORTS[1], held=0.12),
        "TH06": Pilot(WILD_STUDENT, "alpha", altitude_ft=400.0),
    }
    present = [different.get(pilot.student_id, pilot) for pilot in usual]
    return [*present, Pilot(LEFT_STUDENT, "alpha", sessions=3, left_on=date(2026, 2, 18))]


def write_school(root: Path, students: Sequence[Pilot] | None = None) -> Warehouse:
    """A measured store of that school, with a review and the report of a night."""
    warehouse = Warehouse(root)
    flown = list(_logs(students or pilots()))
    tables = stored_tables(flown)
    for kind in ("tasks", "roster", "devices", "sessions"):
        rows = _dressed(kind, tables[f"stored_{kind}"], students or pilots())
        write_parquet(rows, warehouse.table_path(kind, BATCH), {})
    _write_samples(warehouse, flown)
    _write_review(warehouse)
    write_run_report(warehouse)
    (root / "school.toml").write_text(
        f"school_name = '''School of {OWNED}'''\n[stages]\nsecond = 'faa-private-instruments'\n"
    )
    measure_warehouse(warehouse, school_settings(warehouse))
    return warehouse


def _logs(students: Sequence[Pilot]) -> Iterator[Log]:
    draw = random.Random(20260202)
    for place, pilot in enumerate(students):
        for week in range(pilot.sessions):
            day = START + timedelta(days=7 * week + place % 5)
            yield Log(
                session_id=f"s{day:%Y%m%d}-{place:03d}",
                student_id=pilot.student_id,
                session_date=day,
                device_id=f"SIM-{(place + week) % 2 + 1}",
                batch_id=BATCH,
                tasks=DEMONSTRATED if (place, week) == (1, 1) else TASKS,
                gates=[FROZEN] if (place, week) == (1, 2) else [],
                **_flight(draw, pilot, has_gap=(place, week) == (0, pilot.sessions - 1)),
            )


FROZEN: Mapping[str, Any] = {
    "gate": "frozen",
    "severity": "suspect",
    "channel": "airspeed_kt",
    "affected": 40,
    "from_s": 10.0,
    "to_s": 50.0,
    "detail": f"did not change {OWNED}",
}


def _flight(draw: random.Random, pilot: Pilot, has_gap: bool) -> dict[str, Any]:
    """Times and values at 1 Hz: level legs that wander, then a level-off that is trimmed after 40 s."""
    times = [t for t in range(SECONDS) if not (has_gap and 30 < t < 40)]
    wander = pilot.altitude_ft * draw.uniform(0.85, 1.15)
    turn = pilot.heading_deg * draw.uniform(0.85, 1.15)
    period = draw.uniform(24, 34)
    values: dict[str, list[float]] = {
        name: []
        for name in (
            *("altitude_ft", "heading_deg", "vertical_speed_fpm", "airspeed_kt"),
            *("pitch_control", "pitch_trim"),
        )
    }
    for t in times:
        angle = 2 * math.pi * t / period
        target, course = (3500.0, 0.0) if t >= 150 else (4000.0, 90.0 if t < 73 else 0.0)
        is_settling = 150 <= t < 190
        values["altitude_ft"].append(target + wander * math.sin(angle))
        values["heading_deg"].append((course + turn * math.sin(angle / 2)) % 360)
        values["vertical_speed_fpm"].append(60 * wander * 2 * math.pi / period * math.cos(angle))
        values["airspeed_kt"].append(95 + 2 * math.sin(angle))
        values["pitch_control"].append(pilot.held + (0.2 if is_settling else 0.004 * math.sin(t)))
        values["pitch_trim"].append(0.1 if t < 190 else 0.2)
    return {"t_ms": [1000 * t for t in times], "values": values}


def _dressed(kind: str, rows: pa.Table, students: Sequence[Pilot]) -> pa.Table:
    """The stored rows with labels; some of them try to break out."""
    found = rows.to_pylist()
    pilot_of = {pilot.student_id: pilot for pilot in students}
    for row in found:
        if kind == "sessions":
            lesson = WILD_LESSON if row["student_id"] == "TH03" else "straight and level"
            row |= {"lesson": lesson, "air": "smooth", "instructor_id": "I1"}
        if kind == "roster":
            pilot = pilot_of[row["student_id"]]
            row |= {"cohort": pilot.cohort, "stage": STAGES.get(pilot.cohort, "first")}
            row |= {"start_date": START, "left_on": pilot.left_on}
    if kind == "devices":
        found = [_device(name) for name in ("SIM-1", "SIM-2")]
    return pa.Table.from_pylist(found, schema=TABLES[kind])


def _device(name: str) -> dict[str, Any]:
    kind = {"device_class": "simulator", "control": "centring", "valid_from": None}
    return {"device_id": name, **kind, "row_sha256": "0" * 64, "batch_id": BATCH}


def _write_samples(warehouse: Warehouse, flown: Sequence[Log]) -> None:
    for day in sorted({log.session_date for log in flown}):
        of_day = stored_tables([log for log in flown if log.session_date == day])
        write_parquet(of_day["stored_samples"], warehouse.samples_path(day, BATCH), {})


def _write_review(warehouse: Warehouse) -> None:
    review = {
        "review_id": "r1",
        "kind": "acknowledge",
        "student_id": "TH01",
        "aspect": "altitude",
        "note": f"seen {OWNED}",
        "made_at": datetime(2026, 3, 10, 8, tzinfo=UTC),
    }
    rows = pa.Table.from_pylist([review], schema=TABLES["reviews"])
    write_parquet(rows, warehouse.reviews / "r1.parquet", {})


def write_run_report(warehouse: Warehouse) -> None:
    """The report of a night that refused one file."""
    reason = {
        "rule": "empty",
        "sentence": f"logs/s9.csv: empty {OWNED}; send it again",
        "file": "logs/s9.csv",
    }
    report = {
        "started_at": NOW.isoformat(),
        "landed": [{}],
        "already_landed": 3,
        "refused": [
            {"file": "logs/s9.csv", "session_id": "s9", "is_new": True, "reasons": [reason]}
        ],
        "waiting": [{"sentence": "logs/s8.csv waits for a line in sessions.csv"}],
        "warnings": [],
    }
    write_bytes(json.dumps(report).encode(), warehouse.runs / "r20260328T020000Z.json")
