"""One look at the inbox: what is new lands as one batch, the rest waits or is refused, and all of
it is said.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from pipeline.errors import UsageError
from pipeline.land.batch import Batch, next_batch_id, samples_table
from pipeline.land.being_written import is_being_written
from pipeline.land.faults import RefusedFile, make_reason, shown_path
from pipeline.land.inbox import InboxFile, look_into
from pipeline.land.known import read_known, stored_tasks
from pipeline.land.log_bytes import FileStamp, read_bytes, sha256_of
from pipeline.land.log_check import CleanLog
from pipeline.land.memory import load_memory, save_memory
from pipeline.land.night import Night
from pipeline.land.night_papers import read_papers, records_of
from pipeline.land.papers import read_paper
from pipeline.land.plan import Job, is_settled, plan_jobs
from pipeline.land.profiles import read_profiles
from pipeline.land.quarantine import flush_quarantine
from pipeline.land.reading_mark import left_mark
from pipeline.land.session_log import (
    Sources,
    clock_gates,
    read_log,
    row_gates,
    session_record,
    stored_log,
    stored_task_gates,
    task_gates,
    task_records,
)
from pipeline.land.tasks import TASK_COLUMNS, TASK_OPTIONAL, TaskList, take_tasks
from pipeline.reports import LandedSession, LandReport, Refusal
from pipeline.settings import Settings
from pipeline.store import Warehouse, hold_lock, read_forgotten, sweep

Progress = Callable[[int, int], None]


def land_inbox(
    inbox: Path,
    warehouse: Warehouse,
    settings: Settings,
    now: datetime,
    progress: Progress | None = None,
    since: date | None = None,
) -> LandReport:
    """Take what is new in the inbox into the warehouse as one batch; nothing in the inbox is
    touched.

    `now` carries a zone. Sessions that started before `since`, a UTC date, are passed over, new or
    not. `progress` is called with how many sessions are done and how many there are. Raises UsageError
    where there is no such inbox, LockHeld where another run is at work.
    """
    if not inbox.is_dir():
        raise UsageError(
            f"{inbox}: there is no such inbox folder; name the folder with sessions.csv"
        )
    with hold_lock(warehouse, "ingest", now):
        swept = sweep(warehouse)
        night = _begin(inbox, warehouse, settings, now)
        night.since = since
        batch_id = _land(night, progress or (lambda done, total: None))
        if night.copies:
            flush_quarantine()
        save_memory(warehouse, night.memory)
        return night.report(batch_id, len(swept))


def _begin(inbox: Path, warehouse: Warehouse, settings: Settings, now: datetime) -> Night:
    known = read_known(warehouse)
    found = look_into(inbox, read_forgotten(warehouse))
    papers = read_papers(found, known, settings.landing)
    found.pass_over(papers.forgotten_sessions)
    night = Night(found, warehouse, settings, now, known, papers, load_memory(warehouse))
    night.profiles = read_profiles(warehouse.root)
    night.refuse_told([*papers.refusals, *found.refusals])
    night.warnings += papers.warnings
    night.warnings += [
        f"{shown_path(f)}: passed over, it is no log or task list" for f in found.strange
    ]
    night.ignored |= dict.fromkeys(papers.ignored)
    return night


def _land(night: Night, progress: Progress) -> str | None:
    """Write the batch; gives back its id, None where the night brought nothing new."""
    jobs = plan_jobs(night)
    students = records_of(night.papers.new_students)
    devices = records_of(night.papers.new_devices)
    content = [r["row_sha256"] for r in (*students, *devices)] + [j.row_sha256 for j in jobs]
    batch_id = next_batch_id(night.now, night.known.last_batch, content)
    with Batch(night.warehouse, batch_id) as batch:
        for done, job in enumerate(jobs, start=1):
            _land_one(night, job, batch)
            progress(done, len(jobs))
        if not (night.landed or students or devices):
            return None
        batch.commit(students, devices)
    _say_unlisted_devices(night, jobs)
    return batch_id


def _land_one(night: Night, job: Job, batch: Batch) -> None:
    """One session into the batch, or its refusal on record."""
    if job.log is None:
        if job.known is not None:
            log = stored_log(night.warehouse, job.known, job.row)
            _add(night, job, batch, log, job.known.log_name, job.known.log_sha256)
        return
    read = _read_steady(night, job.log)
    if read is None:
        return
    stamp, content = read
    sha256 = sha256_of(content)
    if is_settled(night, job, job.log, stamp, sha256):
        return
    try:
        log = _read_guarded(night, job, job.log, content, sha256)
    except RefusedFile as refused:
        depends_on = job.depends_on(night, sha256)
        night.refuse_log(
            job.log.path, job.log.file, job.row.session_id, refused.reasons, depends_on
        )
        return
    _add(night, job, batch, log, job.log.file, sha256)


def _read_guarded(night: Night, job: Job, log: InboxFile, content: bytes, sha256: str) -> CleanLog:
    """The clean log. A Parquet log is read under a mark, for it may end the whole process."""
    profile = night.profiles.usable.get(job.row.recorder)
    limits = night.settings.landing
    if log.ending != ".parquet":
        return read_log(content, log.file, log.ending, job.row, limits, profile)
    mark = night.mark or left_mark(night.warehouse)
    night.mark = mark
    fault = mark.fault(log.file, sha256)
    if fault is not None:
        raise RefusedFile([fault])
    with mark.reading(sha256):
        return read_log(content, log.file, log.ending, job.row, limits, profile)


def _read_steady(night: Night, log: InboxFile) -> tuple[FileStamp, bytes] | None:
    """The log's bytes; None, with the reason on record, where it is still being written or
    unreadable.
    """
    try:
        stamp = FileStamp.of(log.path)
        content = read_bytes(log.path, log.file, night.settings.landing.max_log_mb)
        if FileStamp.of(log.path) == stamp and not is_being_written(log.path):
            return stamp, content
        said = f"{shown_path(log.file)}: it is still being written; it is left for the next run"
        night.wait("being_written", log.file, said)
    except RefusedFile as refused:
        night.refuse_told([Refusal("log", log.file, refused.reasons, log.session_id)])
    except OSError as error:
        said = f"the file cannot be opened ({error.strerror})"
        reason = make_reason("unreadable", log.file, said, "make it readable for this program")
        night.refuse_told([Refusal("log", log.file, (reason,), log.session_id)])
    return None


def _add(night: Night, job: Job, batch: Batch, log: CleanLog, log_name: str, sha256: str) -> None:
    session_id = job.row.session_id
    revision = 1 if job.known is None else job.known.revision + 1
    tasks = _tasks_of(night, job, log)
    student = night.papers.students[job.row.student_id]
    timed = (*row_gates(job.row, student, night.now), *clock_gates(log))
    gates = (*timed, *task_gates(tasks))
    if job.tasks is None and job.known is not None:
        gates = (*gates, *stored_task_gates(night.warehouse, job.known))
    sources = Sources(log_name, sha256, job.row_sha256, job.tasks_sha256)
    record = session_record(job.row, revision, log, sources, gates)
    samples = samples_table(session_id, revision, log.t_ms, log.values)
    batch.add(record, samples, task_records(tasks, session_id, revision))
    night.landed.append(
        LandedSession(
            session_id,
            revision,
            job.row.session_date.isoformat(),
            len(log.t_ms),
            job.changed(sha256),
        )
    )
    night.ignored |= dict.fromkeys(f"logs: {name}" for name in log.ignored)
    told = (*log.gates, *timed)
    night.warnings += [f"session {session_id}: {g.detail}" for g in told if g.severity != "note"]


def _tasks_of(night: Night, job: Job, log: CleanLog) -> TaskList:
    """The session's tasks, from the inbox or, where the file is gone, as stored; refusals on
    record.
    """
    first_s, last_s = float(log.t_ms[0]) / 1000, float(log.t_ms[-1]) / 1000
    if job.tasks is None:
        if job.known is None or job.known.tasks_sha256 is None:
            return TaskList()
        paper, numbers = stored_tasks(night.warehouse, job.known)
        return take_tasks(paper, job.row.session_id, first_s, last_s, numbers)
    file = job.tasks.file
    limits = night.settings.landing
    try:
        content = read_bytes(job.tasks.path, file, limits.max_paper_mb, "max_paper_mb")
        paper = read_paper(content, file, TASK_COLUMNS, TASK_OPTIONAL, limits.max_paper_rows)
        tasks = take_tasks(paper, job.row.session_id, first_s, last_s)
        night.ignored |= dict.fromkeys(f"tasks: {name}" for name in paper.ignored)
    except RefusedFile as refused:
        refusal = Refusal("file", file, refused.reasons, job.row.session_id)
        tasks = TaskList(refusals=(refusal,))
    if tasks.refusals:
        reasons = [reason for refusal in tasks.refusals for reason in refusal.reasons]
        copy = night.quarantine(job.tasks.path, file, reasons)
        night.refusals += [replace(r, quarantined_as=copy) for r in tasks.refusals]
    return tasks


def _say_unlisted_devices(night: Night, jobs: list[Job]) -> None:
    """Said once: on the night that a device first appears in a session without being in
    devices.csv.
    """
    landed = {session.session_id for session in night.landed}
    listed = {row.device_id for row in night.papers.devices.values()}
    seen = {known.row.device_id for known in night.known.sessions.values()}
    flown = {job.row.device_id for job in jobs if job.row.session_id in landed}
    unlisted = sorted(str(d) for d in flown - listed - seen if d is not None)
    if unlisted:
        names = ", ".join(unlisted)
        night.warnings.append(
            f"devices.csv: no row for {names}; taken as simulator with a centring control"
        )
