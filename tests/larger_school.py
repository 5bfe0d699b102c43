"""A generated larger school, for what needs many students: four cohorts, two weeks, a session a week each.

Nothing in it is anybody's: flights are a decaying level-off and a wander, drawn from one seed.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

WEEKS = 2
SECONDS = 420
DEVICES = ("SIM-1", "SIM-2")
TASKS = (
    "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n"
    "0,110,level,3000,90\n"
    "120,230,level,3000,90\n"
    "240,419,level_off,3000,90\n"
)


@dataclass(frozen=True)
class Cohort:
    """A cohort: so many students, all of whom started on one Monday."""

    name: str
    students: int
    start: date


COHORTS = (
    Cohort("autumn", 14, date(2026, 1, 5)),
    Cohort("spring", 6, date(2026, 1, 12)),
    Cohort("summer", 5, date(2026, 1, 12)),
    Cohort("winter", 12, date(2026, 1, 12)),
)


def write_larger_school(inbox: Path) -> Path:
    """The inbox of the whole school, of which nobody was asked for consent."""
    (inbox / "logs").mkdir(parents=True)
    (inbox / "tasks").mkdir()
    draw = random.Random(20260105)
    sessions = []
    number = 0
    for cohort in COHORTS:
        for _ in range(cohort.students):
            number += 1
            student = f"LS{number:02d}"
            skill = draw.uniform(0.5, 2.2)
            for week in range(WEEKS):
                session = f"{student}-w{week + 1}"
                day = cohort.start + timedelta(days=7 * week)
                at = datetime(
                    day.year, day.month, day.day, 9 + number // 60, number % 60, tzinfo=UTC
                )
                sessions.append(
                    f"{session},{student},{at.isoformat()},{DEVICES[number % 2]},grey goose,"
                    f"INS-{number % 3},brown cow\n"
                )
                log = flight(draw, skill * 0.85**week)
                (inbox / "logs" / f"{session}.csv").write_text(log)
                (inbox / "tasks" / f"{session}.csv").write_text(TASKS)
    write_roster(inbox)
    (inbox / "sessions.csv").write_text(
        "session_id,student_id,started_at,device_id,aircraft_type,instructor_id,lesson\n"
        + "".join(sessions)
    )
    return inbox


def write_roster(inbox: Path, *, with_consent: bool = False) -> None:
    """The roster. With consent: every seventh student said no, every eleventh nothing, the others yes."""
    inbox.mkdir(exist_ok=True)
    lines = ["student_id,cohort,start_date,stage" + (",research_consent" if with_consent else "")]
    number = 0
    for cohort in COHORTS:
        for _ in range(cohort.students):
            number += 1
            answer = "no" if number % 7 == 0 else "" if number % 11 == 0 else "yes"
            line = f"LS{number:02d},{cohort.name},{cohort.start.isoformat()},first-lessons"
            lines.append(f"{line},{answer}" if with_consent else line)
    (inbox / "roster.csv").write_text("\n".join(lines) + "\n")


def flight(draw: random.Random, clumsiness: float) -> str:
    """A log at 1 Hz: two level stretches that wander, then a level-off that may or may not settle.

    In level flight the control goes to and fro every 8 s, and the trim moves once and back.
    """
    wander = 130 * clumsiness * draw.uniform(0.7, 1.3)
    period, phase = draw.uniform(25, 45), draw.uniform(0, 6)
    settles_at = draw.uniform(20, 60) if draw.random() < 0.7 else 1e9
    rows = [
        "time_s,altitude_ft,heading_deg,vertical_speed_fpm,airspeed_kt,pitch_control,pitch_trim\n"
    ]
    for t in range(SECONDS):
        turn = 2 * math.pi * t / period + phase
        if t < 240:
            error, rate = wander * math.sin(turn), wander * math.cos(turn)
            control = 0.01 + 0.015 * math.sin(2 * math.pi * t / 8)
        else:
            since = t - 240
            left = 0.0 if since > settles_at else 1.0
            error, rate = 60 * math.exp(-since / 40), -300 * left * math.exp(-since / 200)
            control = 0.15 * left
        trim = 0.14 if 60 <= t < 90 else 0.1
        heading = 90 + 6 * clumsiness * math.sin(turn / 2)
        rows.append(f"{t},{3000 + error:.1f},{heading:.2f},{rate:.0f},100,{control:.3f},{trim}\n")
    return "".join(rows)
