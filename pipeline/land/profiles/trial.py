"""What a profile makes of one log, before anything lands."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import numpy as np

from pipeline.errors import UsageError
from pipeline.land.faults import RefusedFile
from pipeline.land.gates import Gate
from pipeline.land.inbox import LOG_ENDINGS
from pipeline.land.log_bytes import read_bytes
from pipeline.land.log_check import CleanLog
from pipeline.land.log_start import first_moment
from pipeline.land.profiles.changes import changes
from pipeline.land.profiles.model import Profile
from pipeline.land.rows import SessionRow
from pipeline.land.session_log import read_log
from pipeline.reports import Reason
from pipeline.settings import Landing

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Trial:
    """A log as channels: heading and first rows, what was changed and ignored; or why it is refused.

    `started_at` is the start that times count from: as given, else the log's first moment.
    """

    changes: tuple[str, ...]
    started_at: datetime
    names: tuple[str, ...] = ()
    rows: tuple[tuple[float | None, ...], ...] = ()
    sample_count: int = 0
    ignored: tuple[str, ...] = ()
    gates: tuple[Gate, ...] = ()
    reasons: tuple[Reason, ...] = ()


def try_profile(
    profile: Profile,
    name: str,
    log: Path,
    limits: Landing,
    started_at: datetime | None = None,
    row_count: int = 8,
) -> Trial:
    """What `profile`, called `name`, makes of `log`; nothing is written.

    Raises UsageError where there is no such log, or where it cannot be read without `started_at`.
    """
    ending = next((e for e in LOG_ENDINGS if log.name.lower().endswith(e)), None)
    if not log.is_file() or ending is None:
        raise UsageError(f"{log}: there is no such log; a log ends in {', '.join(LOG_ENDINGS)}")
    try:
        content = read_bytes(log.resolve(), log.name, limits.max_log_mb)
        start = started_at or _first_moment(profile, content, log.name, ending, limits)
        row = SessionRow("trial", "trial", start, recorder=name)
        clean = read_log(content, log.name, ending, row, limits, profile)
    except RefusedFile as refused:
        return Trial(changes(profile), started_at or _EPOCH, reasons=refused.reasons)
    names = ("time_s", *clean.channels)
    told = tuple(gate for gate in clean.gates if gate.gate != "read_with_profile")
    return Trial(
        changes(profile),
        start,
        names,
        tuple(_rows(clean, row_count)),
        len(clean.t_ms),
        clean.ignored,
        told,
    )


def _first_moment(
    profile: Profile, content: bytes, file: str, ending: str, limits: Landing
) -> datetime:
    """The earliest moment that a log tells; 1970 where it only counts seconds."""
    needs_date = profile.heading.reference == "true" and profile.heading.variation_deg is None
    form = profile.time.form
    if form == "clock" or (form == "elapsed" and needs_date):
        raise UsageError(f"{file}: it tells no date; give the session's start with --started-at")
    return first_moment(profile, content, file, ending, limits) or _EPOCH


def _rows(clean: CleanLog, count: int) -> Iterator[tuple[float | None, ...]]:
    """The first rows as time in seconds and the channels' values; None where there is none."""
    columns = [clean.t_ms[:count] / 1000.0, *(v[:count] for v in clean.values.values())]
    for row in zip(*columns, strict=True):
        yield tuple(None if np.isnan(v) else float(f"{v:.7g}") for v in row)
