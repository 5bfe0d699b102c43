"""From the bytes of a recorder's text to plain UTF-8 columns: decoded, preamble and unit lines cut."""

import codecs
from dataclasses import dataclass
from typing import Final

from pipeline.land.faults import RefusedFile, make_reason
from pipeline.land.papers import UTF8_BOM, check_text
from pipeline.land.profiles.model import TextForm

_MARKS: Final = {
    "latin-1": (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, UTF8_BOM),
    "utf-16": (UTF8_BOM,),
}
"""Byte order marks that tell of another encoding than the profile names."""


@dataclass(frozen=True)
class Body:
    """The heading and the samples as UTF-8, and how many lines were cut above the first sample."""

    content: bytes
    lines_cut: int


def body_of(content: bytes, file: str, form: TextForm) -> Body:
    """The part of a text log that holds its samples. Raises RefusedFile where it is no such text."""
    plain = _as_utf8(content, file, form.encoding)
    check_text(plain, file)
    plain = plain.removeprefix(UTF8_BOM)
    newline = b"\n" if b"\n" in plain else b"\r"
    start = _after_lines(plain, 0, form.preamble_lines, newline)
    if start is None or not plain[start:].strip():
        said = f"it ends within the {form.preamble_lines} lines that the profile counts as preamble"
        raise RefusedFile([make_reason("header_only", file, said, "mend text.preamble_lines")])
    first = _after_lines(plain, start, 1, newline) or len(plain)
    below = _after_lines(plain, first, form.lines_below_heading, newline) or len(plain)
    cut = form.preamble_lines + form.lines_below_heading
    return Body(plain[start:first] + plain[below:] if cut else plain, cut)


def _as_utf8(content: bytes, file: str, encoding: str) -> bytes:
    if encoding == "utf-8":
        return content
    mark = next((m for m in _MARKS[encoding] if content.startswith(m)), None)
    if mark is not None:
        said = f"its first bytes tell of another encoding than {encoding}, which the profile names"
        raise RefusedFile([make_reason("wrong_encoding", file, said, "mend text.encoding")])
    try:
        return content.decode(encoding).encode("utf-8")
    except UnicodeError as error:
        said = f"the text is not {encoding}, which the profile names ({error})"
        raise RefusedFile(
            [make_reason("wrong_encoding", file, said, "mend text.encoding")]
        ) from None


def _after_lines(content: bytes, start: int, count: int, newline: bytes) -> int | None:
    """Where the line begins that follows `count` lines; None where there are not that many."""
    place = start
    for _ in range(count):
        end = content.find(newline, place)
        if end < 0:
            return None
        place = end + 1
    return place
