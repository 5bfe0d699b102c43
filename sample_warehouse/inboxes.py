"""The school's two inboxes as files: eight weeks of history, and the last night that still waits."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sample_warehouse import faults, timetable
from sample_warehouse.progress import Task
from sample_warehouse.recorder import log_text
from sample_warehouse.school import DEVICES, FIRST_DAY, STORIES, WAITING_DAY
from sample_warehouse.simulate import Flight, fly
from sample_warehouse.timetable import Session

ROSTER_COLUMNS = ("student_id", "cohort", "start_date", "stage", "left_on", "research_consent")
SESSION_COLUMNS = (
    "session_id",
    "student_id",
    "started_at",
    "device_id",
    "aircraft_type",
    "instructor_id",
    "lesson",
    "air",
)
DEVICE_COLUMNS = ("device_id", "device_class", "control", "valid_from")
TASK_COLUMNS = ("start_s", "end_s", "kind", "target_altitude_ft", "target_heading_deg", "flown_by")
NIGHT = f"s{WAITING_DAY.replace('-', '')}"
AWAITED_SESSION, UNKNOWN_STUDENTS_SESSION = f"{NIGHT}-80", f"{NIGHT}-81"
BAD_TIME_SESSION, NO_SESSION = f"{NIGHT}-82", f"{NIGHT}-90"


@dataclass(frozen=True)
class Written:
    """What was written: sessions of the history, and of the last night."""

    history_sessions: int
    waiting_sessions: int


def write_inboxes(history_inbox: Path, waiting_inbox: Path) -> Written:
    """Write both inboxes into empty or new folders; the same bytes every time."""
    past, waiting = timetable.history(), timetable.waiting()
    flights = fly(past + waiting)
    write_history(history_inbox, flights[: len(past)])
    write_waiting(waiting_inbox, flights[len(past) :], again=flights[len(past) - 1])
    return Written(len(past), len(waiting))


def write_history(inbox: Path, flights: Sequence[Flight]) -> None:
    """The inbox of eight weeks, all of it sound."""
    _write_lists(inbox, [session_row(flight.session) for flight in flights])
    for flight in flights:
        _write_log(inbox, flight, log_text(flight))
        _write_tasks(inbox, flight)


def write_waiting(inbox: Path, flights: Sequence[Flight], again: Flight) -> None:
    """The inbox of the last night: sound logs, one that comes again, and one of each kind of trouble."""
    by_student = {flight.session.story.student_id: flight for flight in flights}
    sound = [by_student[student] for student in timetable.WAITING_STUDENTS]
    spoilt = [by_student[student] for student in timetable.REFUSED_STUDENTS]
    rows = [session_row(flight.session) for flight in (again, *flights)]
    _write_lists(inbox, [*rows, *_rows_without_a_sound_log(spoilt)])
    for flight in (again, *sound):
        text = log_text(flight)
        _write_log(inbox, flight, faults.repeated_rows(text) if flight is sound[-1] else text)
        _write_tasks(inbox, flight, overlapping=flight is sound[1])
    for flight, fault in zip(spoilt, faults.REFUSED, strict=False):
        _write_log(inbox, flight, fault.spoil(log_text(flight)))
    cut = inbox / "logs" / f"{spoilt[-1].session.session_id}.csv.gz"
    cut.write_bytes(faults.cut_gzip(log_text(spoilt[-1])))
    lone = faults.short(log_text(sound[0]))
    for name in (UNKNOWN_STUDENTS_SESSION, NO_SESSION):
        (inbox / "logs" / f"{name}.csv").write_text(lone, newline="")


def session_row(session: Session) -> tuple[str, ...]:
    """One session as its row of sessions.csv."""
    return (
        session.session_id,
        session.story.student_id,
        session.started_at,
        session.device.device_id,
        session.device.aircraft_type,
        session.instructor_id,
        session.lesson,
        session.air,
    )


def _rows_without_a_sound_log(flights: Sequence[Flight]) -> list[tuple[str, ...]]:
    """A session whose log has not come, one of a student not on the roster, one with a bad time."""
    like = session_row(flights[0].session)
    awaited = (AWAITED_SESSION, "TH12", *like[2:])
    unknown = (UNKNOWN_STUDENTS_SESSION, "TH25", *like[2:])
    bad_time = (BAD_TIME_SESSION, "TH14", "yesterday evening", *like[3:])
    return [awaited, unknown, bad_time]


def _write_lists(inbox: Path, sessions: Iterable[Sequence[str]]) -> None:
    for folder in ("logs", "tasks"):
        (inbox / folder).mkdir(parents=True, exist_ok=True)
    roster = [
        (s.student_id, s.cohort, s.start_date, s.stage, s.left_on, "true" if s.consent else "false")
        for s in STORIES
    ]
    devices = [
        (device.device_id, device.device_class, device.control, FIRST_DAY) for device in DEVICES
    ]
    _write_csv(inbox / "roster.csv", ROSTER_COLUMNS, roster)
    _write_csv(inbox / "sessions.csv", SESSION_COLUMNS, sessions)
    _write_csv(inbox / "devices.csv", DEVICE_COLUMNS, devices)


def _write_log(inbox: Path, flight: Flight, text: str) -> None:
    (inbox / "logs" / f"{flight.session.session_id}.csv").write_text(text, newline="")


def _write_tasks(inbox: Path, flight: Flight, overlapping: bool = False) -> None:
    tasks = [_task_row(task) for task in flight.tasks]
    if overlapping:
        first = flight.tasks[0]
        tasks.insert(1, ("60", str(first.end_s - 10), "level", *tasks[0][3:]))
    _write_csv(inbox / "tasks" / f"{flight.session.session_id}.csv", TASK_COLUMNS, tasks)


def _task_row(task: Task) -> tuple[str, ...]:
    return (
        str(task.start_s),
        str(task.end_s),
        task.kind,
        f"{task.target_altitude_ft:.0f}",
        f"{task.target_heading_deg:.0f}",
        task.flown_by,
    )


def _write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    path.write_text(text.getvalue(), newline="")
