"""Reading the small files of an inbox (roster, sessions, devices, tasks) into rows of text with
their lines.
"""

import csv
import hashlib
import io
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.land.faults import RefusedFile, make_reason, shown
from pipeline.reports import Reason

UTF8_BOM = b"\xef\xbb\xbf"
_OTHER_DELIMITERS = (";", "\t", "|")
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True)
class PaperRow:
    """One row: its line in the file (the heading is line 1) and its cells, stripped, by column."""

    line: int
    cells: dict[str, str]
    is_ragged: bool = False


@dataclass(frozen=True)
class Paper:
    """One small file. `ignored` are columns that nobody asked for, `absent` optional ones it
    lacks.
    """

    file: str
    sha256: str
    rows: tuple[PaperRow, ...] = ()
    ignored: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()


def read_paper(
    content: bytes, file: str, required: Sequence[str], optional: Sequence[str], max_rows: int
) -> Paper:
    """The rows of a comma-separated file. Raises RefusedFile where the file as a whole cannot be
    used.
    """
    text = text_of(content, file)
    rows = _split(text, file, max_rows)
    if not rows:
        raise RefusedFile(
            [make_reason("empty_file", file, "the file is empty", "deliver it again")]
        )
    header = [name.strip() for name in rows[0][1]]
    check_header(header, file, required)
    known = {*required, *optional}
    return Paper(
        file=file,
        sha256=hashlib.sha256(content).hexdigest(),
        rows=tuple(_row(line, cells, header) for line, cells in rows[1:]),
        ignored=tuple(name for name in header if name and name not in known),
        absent=tuple(name for name in optional if name not in header),
    )


def text_of(content: bytes, file: str) -> str:
    """The text of a UTF-8 file without its byte order mark. Raises RefusedFile where it is no such
    text.
    """
    check_text(content, file)
    return content.removeprefix(UTF8_BOM).decode("utf-8")


def check_text(content: bytes, file: str) -> None:
    """Raises RefusedFile unless `content` is UTF-8 text (with or without a byte order mark)."""
    if not content or content.isspace():
        raise RefusedFile(
            [make_reason("empty_file", file, "the file is empty", "deliver it again")]
        )
    if content[:2] in _UTF16_MARKS:
        said = "the text is UTF-16, not UTF-8"
        mend = f"save it as UTF-8{_or_profile(file)}"
        raise RefusedFile([make_reason("wrong_encoding", file, said, mend)])
    if b"\0" in content:
        said = "this is not text (it holds zero bytes)"
        raise RefusedFile([make_reason("not_text", file, said, "deliver the log as CSV text")])
    if content.isascii():
        return
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        said = f"byte 0x{content[error.start]:02x} is not UTF-8"
        mend = f"save it as UTF-8{_or_profile(file)}"
        reason = make_reason("wrong_encoding", file, said, mend, row=line)
        raise RefusedFile([reason]) from None


def _or_profile(file: str, do: str = "say so") -> str:
    """The other way out for a log: a recorder that always writes so is told once and for all."""
    return f", or {do} in a profile of its recorder" if file.startswith("logs/") else ""


def check_header(header: Sequence[str], file: str, required: Sequence[str]) -> None:
    """Raises RefusedFile with every fault of a heading: a wrong delimiter, a name twice, a missing
    column.
    """
    missing = [name for name in required if name not in header]
    if len(header) == 1 and missing:
        delimiter = _other_delimiter(header[0])
        if delimiter is not None:
            said = f"columns are separated by {delimiter!r}, not by a comma"
            mend = f"save it with commas{_or_profile(file)}"
            reason = make_reason("wrong_delimiter", file, said, mend, row=1)
            raise RefusedFile([reason])
    twice = sorted({name for name in header if name and header.count(name) > 1})
    reasons = [
        make_reason(
            "column_twice", file, "the column appears twice", "keep one", row=1, column=name
        )
        for name in twice
    ]
    reasons += [missing_column(name, header, file) for name in missing]
    if reasons:
        raise RefusedFile(reasons)


def missing_column(name: str, header: Sequence[str], file: str) -> Reason:
    """The reason that a required column is not there, with the column that may be meant."""
    alike = [h for h in header if h.strip().lower().replace(" ", "_") == name.lower()]
    hint = f" ({shown(alike[0])!r} may be meant)" if alike else ""
    said = f"the required column is missing{hint}"
    mend = f"add it and deliver again{_or_profile(file, 'name what holds it')}"
    return make_reason("missing_column", file, said, mend, column=name)


def _other_delimiter(text: str) -> str | None:
    found = [d for d in _OTHER_DELIMITERS if d in text]
    return max(found, key=text.count) if found else None


def _split(text: str, file: str, max_rows: int) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""))
    filled = ((reader.line_num, cells) for cells in reader if any(c.strip() for c in cells))
    try:
        rows = list(itertools.islice(filled, max_rows + 2))
    except csv.Error as error:
        said = f"the text is not comma-separated values ({error})"
        reason = make_reason("not_csv", file, said, "deliver it again", row=reader.line_num)
        raise RefusedFile([reason]) from None
    if len(rows) > max_rows + 1:
        said = f"there are more than {max_rows} rows"
        mend = "split it or raise landing.max_paper_rows in school.toml"
        raise RefusedFile([make_reason("too_large", file, said, mend)])
    return rows


def _row(line: int, cells: list[str], header: list[str]) -> PaperRow:
    named = {name: cell.strip() for name, cell in zip(header, cells, strict=False) if name}
    return PaperRow(line, named, is_ragged=len(cells) != len(header))


def relative(path: Path, inbox: Path) -> str:
    """The path inside the inbox, with forward slashes."""
    return path.relative_to(inbox).as_posix()
