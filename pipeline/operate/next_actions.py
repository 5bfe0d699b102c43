"""What an operator does next, in plain words, from how the store stands."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from pipeline.operate.run_reports import shown
from pipeline.operate.status import LastNight, Status

OVERDUE_AFTER: Final = timedelta(hours=36)
"""A night that comes a few hours late is late; after this long, one was missed."""

LOW_BYTES: Final = 1_000_000_000
"""Less room than this on the disk is told: a night of a large school may take it."""

WAITING_ACTIONS: Final = {
    "awaited": "deliver the logs of sessions that were announced, or take their rows out of sessions.csv",
    "unclaimed": "add a row to sessions.csv for each log that no row names",
    "student": "add the missing students to roster.csv",
    "recorder": "write a profile for the recorder (levelhold init lays a guide into the warehouse's "
    "profiles/); levelhold profile try shows what it makes of a log",
    "row": "mend the refused rows of sessions.csv: their logs wait for them",
    "being_written": "nothing: a log that is still being written is taken the next night",
}
"""By what an input waits for, what to do about it."""


def next_actions(status: Status, now: datetime) -> tuple[str, ...]:
    """Sentences, the most pressing first; one that says so where there is nothing to do."""
    found = tuple(_actions(status, now))
    return found or ("nothing to do: the next night runs as scheduled",)


def _actions(status: Status, now: datetime) -> Iterator[str]:
    yield from _about_runs(status, now)
    if status.size.free_bytes < LOW_BYTES:
        yield f"make room: {status.size.free_bytes / 1e6:.0f} MB are left on the store's disk"
    if status.refused:
        yield (
            "mend what was refused in the inbox, and the next night takes it by itself; copies, with "
            "every reason, are in the warehouse's quarantine/"
        )
    ahead = () if status.preview is None else status.preview.landing.waiting
    kinds = [*(kind for kind, _ in status.waits), *(waiting.what for waiting in ahead)]
    for kind in dict.fromkeys(kinds):
        yield WAITING_ACTIONS.get(kind, "see what waits, above")
    if status.lapsed:
        yield (
            "ask the instructor whether what is set aside no longer, above, is to be set aside anew under "
            "its new code; levelhold set-aside OLD --undo takes the old note back"
        )
    if status.to_measure and status.last_night is not None:
        yield (
            f"run levelhold score, or wait for the night: {status.to_measure} samples files "
            "are not measured under these settings"
        )
    if any(flag.is_new for flag in status.flags):
        yield "tell the chief instructor: there are new flags on the page"


def _about_runs(status: Status, now: datetime) -> Iterator[str]:
    if status.failure is not None:
        yield "mend what the failed night says, above, and run levelhold nightly again"
    if status.unfinished_since is not None:
        yield (
            f"a run began at {shown(status.unfinished_since)} and has not ended: if none is at work any more "
            "it was killed; run levelhold nightly again, it mends what was left"
        )
    if status.last_night is None:
        yield "run the first night: levelhold nightly --inbox DIR --warehouse DIR"
    elif is_overdue(status.last_night, now):
        yield (
            f"see why no night has ended since {status.last_night.started_at:%Y-%m-%d}: "
            "look at the timer (systemctl list-timers) or at cron's mail"
        )


def is_overdue(night: LastNight, now: datetime) -> bool:
    """Whether a night was missed since."""
    return now - night.started_at > OVERDUE_AFTER
