"""Recorders made for a test: a profile as text, and a log in its form."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.land.faults import RefusedFile
from pipeline.land.log_check import CleanLog
from pipeline.land.profiles import Profile, load_profile
from pipeline.land.rows import SessionRow
from pipeline.land.session_log import read_log
from pipeline.reports import Reason
from pipeline.settings import Landing

STARTED_AT = datetime(2026, 3, 14, 9, tzinfo=UTC)
ELAPSED = '[time]\nform = "elapsed"\ncolumn = "t"\n'
TWO_CHANNELS = '[channels]\naltitude_ft = {column = "alt"}\nheading_deg = {column = "hdg"}\n'


def profile_of(folder: Path, text: str, name: str = "moth") -> Profile:
    """The profile in `text`, read from a file as a school's would be."""
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return load_profile(path)


def read_as(
    profile: Profile,
    content: str | bytes,
    ending: str = ".csv",
    started_at: datetime = STARTED_AT,
) -> CleanLog:
    """A log as `profile` reads it."""
    row = SessionRow("S1", "TH01", started_at, recorder="moth")
    raw = content.encode() if isinstance(content, str) else content
    return read_log(raw, f"logs/S1{ending}", ending, row, Landing(), profile)


def reasons_of(profile: Profile, content: str | bytes, ending: str = ".csv") -> tuple[Reason, ...]:
    """Why `profile` cannot read a log; fails where it can."""
    try:
        read_as(profile, content, ending)
    except RefusedFile as refused:
        return refused.reasons
    raise AssertionError("the log was taken")


def columns_text(**columns: Sequence[Any]) -> str:
    """A log with these columns."""
    rows = zip(*columns.values(), strict=True)
    lines = [",".join(columns), *(",".join(map(str, row)) for row in rows)]
    return "\n".join(lines) + "\n"


def timed_text(times: Sequence[str], header: str = "t") -> str:
    """A log whose only interest is its times (which may be several columns: `header` names them)."""
    lines = [f"{time},{4000 + i},{90}" for i, time in enumerate(times)]
    return "\n".join([f"{header},alt,hdg", *lines]) + "\n"
