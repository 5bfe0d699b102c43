"""What can be wrong with a night's files: each function spoils the text of one sound log in one way."""

import gzip
from collections.abc import Callable
from dataclasses import dataclass

SHORT_ROWS = 480  # two minutes: enough to be refused for the right reason


def short(text: str) -> str:
    """The header and the first two minutes."""
    return "".join(text.splitlines(keepends=True)[: SHORT_ROWS + 1])


def nothing(_: str) -> str:
    """A file without a byte."""
    return ""


def no_heading(text: str) -> str:
    """The same log without its heading column."""
    rows = [line.split(",") for line in short(text).splitlines()]
    place = rows[0].index("heading_deg")
    return "\n".join(",".join(row[:place] + row[place + 1 :]) for row in rows) + "\n"


def time_runs_backwards(text: str) -> str:
    """Two stretches in the wrong order, so that time goes back far more often than in 1 % of the rows."""
    lines = short(text).splitlines()
    body = lines[1:]
    mixed = [line for start in range(0, len(body), 8) for line in reversed(body[start : start + 8])]
    return "\n".join([lines[0], *mixed]) + "\n"


def words_in_numbers(text: str) -> str:
    """Every eighth altitude is a word: more than the 5 % that a required channel may lose."""
    lines = short(text).splitlines()
    place = lines[0].split(",").index("altitude_ft")
    for index in range(1, len(lines), 8):
        cells = lines[index].split(",")
        cells[place] = "error"
        lines[index] = ",".join(cells)
    return "\n".join(lines) + "\n"


def semicolons(text: str) -> str:
    """The same log with another delimiter and no profile that says so."""
    return short(text).replace(",", ";")


def repeated_rows(text: str) -> str:
    """The whole log, with twelve rows written twice."""
    lines = text.splitlines(keepends=True)
    return "".join(lines[:400] + lines[388:400] + lines[400:])


@dataclass(frozen=True)
class Fault:
    """One way to spoil a log, in words, and how."""

    words: str
    spoil: Callable[[str], str]


REFUSED = (
    Fault("an empty file", nothing),
    Fault("no heading column", no_heading),
    Fault("time runs backwards", time_runs_backwards),
    Fault("words where numbers belong", words_in_numbers),
    Fault("semicolons between the columns", semicolons),
)


def cut_gzip(text: str) -> bytes:
    """The short log, compressed and then cut off in the middle; the same bytes every time."""
    whole = gzip.compress(short(text).encode(), mtime=0)
    return whole[: len(whole) // 2]
