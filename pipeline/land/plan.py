"""What is to be done about each session of the inbox: land it, wait, or nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.land.faults import shown, shown_path
from pipeline.land.inbox import InboxFile
from pipeline.land.known import KnownSession
from pipeline.land.log_bytes import FileStamp
from pipeline.land.night import Night
from pipeline.land.rows import CANONICAL, SessionRow, fingerprint
from pipeline.store import digest_of


@dataclass(frozen=True)
class Job:
    """One session to be landed or looked at more closely.

    `log` is None where only its row or its tasks are new and the samples are those already stored.
    """

    row: SessionRow
    row_sha256: str
    log: InboxFile | None
    tasks: InboxFile | None
    tasks_sha256: str | None
    known: KnownSession | None

    def depends_on(self, night: Night, log_sha256: str) -> str:
        """A fingerprint of all that a verdict on the session's log rests on."""
        profile = night.profiles.digest(self.row.recorder)
        return night.depends_on(log_sha256, self.row_sha256, self.tasks_sha256, profile)

    def changed(self, log_sha256: str) -> tuple[str, ...]:
        """What differs from the newest stored revision, by name; empty where nothing does or there
        is none.
        """
        if self.known is None:
            return ()
        pairs = (
            ("log", log_sha256, self.known.log_sha256),
            ("row", self.row_sha256, self.known.row_sha256),
            ("tasks", self.tasks_sha256, self.known.tasks_sha256),
        )
        return tuple(name for name, new, old in pairs if new != old)


def plan_jobs(night: Night) -> list[Job]:
    """The jobs of a night in the order in which they are written: by date, then session."""
    ids = {str(key) for key in night.papers.sessions} | {*night.inbox.logs} | {*night.inbox.tasks}
    jobs = [job for session_id in sorted(ids) for job in _jobs_of(night, session_id)]
    return sorted(jobs, key=lambda job: (job.row.session_date, job.row.session_id))


def _jobs_of(night: Night, session_id: str) -> Iterator[Job]:
    """One job or none; what waits or is settled is put on record."""
    known = night.known.sessions.get(session_id)
    row = night.papers.sessions.get(session_id) or (known.row if known else None)
    log = night.inbox.logs.get(session_id)
    if row is None:
        _wait_for_row(night, session_id)
    elif night.since is not None and row.session_date < night.since:
        tasks = night.inbox.tasks.get(session_id)
        night.pass_over([found.file for found in (log, tasks) if found is not None])
    elif log is None and known is None:
        night.wait(
            "awaited", session_id, f"session {session_id}: announced, its log is not there yet"
        )
    elif row.student_id not in night.papers.students:
        said = f"session {session_id}: its student is not in the roster yet"
        night.wait("student", session_id, said)
    elif row.recorder not in {CANONICAL, *night.profiles.usable}:
        night.wait("recorder", session_id, _no_profile(night, row))
    elif log is None and _is_read_otherwise(row, known):
        night.wait("recorder", session_id, _log_is_gone(row))
    else:
        tasks = night.inbox.tasks.get(session_id)
        job = Job(row, fingerprint(row), log, tasks, _tasks_sha256(night, tasks, known), known)
        if not _is_settled_unread(night, job):
            yield job


def _no_profile(night: Night, row: SessionRow) -> str:
    return (
        f"session {row.session_id}: there is no profile for recorder {shown(row.recorder)!r}; "
        f"{night.profiles.why_not(row.recorder)}, or leave its cell blank if the log is canonical"
    )


def _is_read_otherwise(row: SessionRow, known: KnownSession | None) -> bool:
    """Whether the stored samples were read with another profile than the row names now."""
    return known is not None and row.recorder != known.row.recorder


def _log_is_gone(row: SessionRow) -> str:
    return (
        f"session {row.session_id}: its recorder is now {shown(row.recorder)!r}, "
        "but its log is no longer in the inbox to be read again; deliver it"
    )


def _wait_for_row(night: Night, session_id: str) -> None:
    for found in (night.inbox.logs.get(session_id), night.inbox.tasks.get(session_id)):
        if found is None:
            continue
        file = shown_path(found.file)
        if session_id in night.papers.refused_sessions:
            night.wait("row", found.file, f"{file}: its row in sessions.csv was refused")
        else:
            night.wait("unclaimed", found.file, f"{file}: no row of sessions.csv names its session")


def _tasks_sha256(night: Night, tasks: InboxFile | None, known: KnownSession | None) -> str | None:
    """The hash of the tasks; where the file is gone, those already stored stand."""
    if tasks is None:
        return known.tasks_sha256 if known else None
    stamp = FileStamp.of(tasks.path)
    sha256 = night.before.sha256_if_unchanged(tasks.file, stamp) or digest_of(tasks.path)
    night.remember(tasks.file, stamp, sha256)
    return sha256


def _is_settled_unread(night: Night, job: Job) -> bool:
    """Whether memory alone says that there is nothing to do."""
    if job.log is None:
        if job.known is None or job.changed(job.known.log_sha256):
            return False
        night.already_landed += 1
        return True
    stamp = FileStamp.of(job.log.path)
    sha256 = night.before.sha256_if_unchanged(job.log.file, stamp)
    return sha256 is not None and is_settled(night, job, job.log, stamp, sha256)


def is_settled(night: Night, job: Job, log: InboxFile, stamp: FileStamp, sha256: str) -> bool:
    """Whether a log with this content is already landed or refused for reasons that still stand."""
    night.remember(log.file, stamp, sha256)
    if job.known is not None and not job.changed(sha256):
        night.already_landed += 1
        return True
    depends_on = job.depends_on(night, sha256)
    refusal = night.standing_refusal(log.file, depends_on)
    if refusal is not None:
        night.refuse_again(log.file, job.row.session_id, refusal)
    return refusal is not None
