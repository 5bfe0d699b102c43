"""Keeping a copy of what was refused, with all its reasons beside it."""

import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from pipeline.land.log_bytes import MEGABYTE
from pipeline.reports import Reason
from pipeline.store import Warehouse, digest_of, write_bytes

_MOST_NAMES = 10_000


def put_in_quarantine(
    warehouse: Warehouse,
    source: Path,
    file: str,
    reasons: Sequence[Reason],
    day: date,
    max_mb: float,
) -> str:
    """Copy `source` (`file` in the inbox) and write its reasons beside it; gives back the copy's
    path.

    A file over `max_mb` is not copied (the inbox keeps it): only its reasons are written. An
    earlier copy with other content on the same day is kept; the same content takes its place.
    """
    target = _free_name(warehouse.quarantine / day.isoformat() / file, source)
    if source.stat().st_size <= max_mb * MEGABYTE:
        write_bytes(source.read_bytes(), target)
    content = json.dumps([reason.as_dict() for reason in reasons], indent=2, ensure_ascii=False)
    write_bytes(f"{content}\n".encode("utf-8", "surrogateescape"), _reasons_beside(target))
    return target.relative_to(warehouse.root).as_posix()


def _reasons_beside(target: Path) -> Path:
    return target.with_name(f"{target.name}.reason.json")


def _free_name(wanted: Path, source: Path) -> Path:
    """`wanted`, or the next numbered name where another file already has it."""
    names = (wanted.with_name(f"{number}~{wanted.name}") for number in range(2, _MOST_NAMES))
    for path in (wanted, *names):
        if not path.exists() and not _reasons_beside(path).exists():
            return path
        if path.exists() and _is_same(path, source):
            return path
    return wanted


def _is_same(one: Path, other: Path) -> bool:
    is_same_size = one.stat().st_size == other.stat().st_size
    return is_same_size and digest_of(one) == digest_of(other)
