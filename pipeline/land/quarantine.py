"""Keeping a copy of what was refused, with all its reasons beside it."""

import itertools
import json
import os
import re
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from pipeline.land.log_bytes import MEGABYTE
from pipeline.reports import Reason
from pipeline.store import Warehouse
from pipeline.store.warehouse import PART_SUFFIX

_MOST_NAMES = 10_000
PAPERS = ("roster.csv", "sessions.csv")
_UTF16 = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_BETWEEN_CELLS = re.compile(r"[,;\t|\"\r\n]")


def put_in_quarantine(
    warehouse: Warehouse,
    source: Path,
    file: str,
    reasons: Sequence[Reason],
    day: date,
    max_mb: float,
    is_forgotten: Callable[[str], bool] | None = None,
) -> str:
    """Copy `source` (`file` in the inbox) and write its reasons beside it; gives back the copy's
    path.

    A file over `max_mb`, or one that cannot be read, is not copied (the inbox keeps it): only its
    reasons are written. An
    earlier copy with other content on the same day is kept; the same content takes its place. Of a
    roster or a list of sessions, lines with a forgotten word are left out of the copy.
    """
    wanted = warehouse.quarantine / day.isoformat() / file
    copied = _content(source, max_mb)
    if copied is not None:
        if is_forgotten is not None and file in PAPERS:
            copied = without_lines(copied, is_forgotten)
        target = _free_name(wanted, copied)
        _put(copied, target)
    else:
        target = _free_name(wanted, None)
    content = json.dumps([reason.as_dict() for reason in reasons], indent=2, ensure_ascii=False)
    _put(f"{content}\n".encode("utf-8", "surrogateescape"), _reasons_beside(target))
    return target.relative_to(warehouse.root).as_posix()


def _content(source: Path, max_mb: float) -> bytes | None:
    """What is to be copied; None where the file is too large or cannot be read."""
    try:
        return source.read_bytes() if source.stat().st_size <= max_mb * MEGABYTE else None
    except OSError:
        # Why it cannot be read is among its reasons.
        return None


def flush_quarantine() -> None:
    """Make every copy of this run outlive a power cut, once a run: a flush for each file costs some
    15 ms, and thousands may be refused.
    """
    os.sync()


def _put(content: bytes, path: Path) -> None:
    """The file is whole or not there; it is on disk for good after `flush_quarantine`."""
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_name(f".{path.name}{PART_SUFFIX}")
    aside.write_bytes(content)
    aside.replace(path)


def _reasons_beside(target: Path) -> Path:
    return target.with_name(f"{target.name}.reason.json")


def without_lines(content: bytes, is_gone: Callable[[str], bool]) -> bytes:
    """A paper without the lines in which a cell is gone, however it is delimited."""
    encoding = _UTF16.get(content[:2], "utf-8")
    text = content.decode(encoding, "surrogateescape" if encoding == "utf-8" else "replace")
    kept = [
        line
        for line in text.splitlines(keepends=True)
        if not any(is_gone(cell.strip().lstrip("\ufeff")) for cell in _BETWEEN_CELLS.split(line))
    ]
    if len(kept) == len(text.splitlines()):
        return content
    return "".join(kept).encode(encoding, "surrogateescape" if encoding == "utf-8" else "replace")


def _free_name(wanted: Path, content: bytes | None) -> Path:
    """`wanted`, or the next numbered name where another file already has it; None has no copy."""
    names = (wanted.with_name(f"{number}~{wanted.name}") for number in range(2, _MOST_NAMES))
    for path in itertools.chain((wanted,), names):
        if not path.exists() and not _reasons_beside(path).exists():
            return path
        if content is not None and path.exists() and path.read_bytes() == content:
            return path
    return wanted
