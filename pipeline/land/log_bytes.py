"""The bytes of one log: read within a limit, hashed as they lie on disk, unpacked within the same
limit.
"""

import errno
import hashlib
import io
import os
import re
import stat
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pipeline.land.faults import RefusedFile, make_reason
from pipeline.reports import Reason

MEGABYTE: Final = 1_000_000
_CHUNK: Final = 1 << 20
_FIRST_FEED: Final = 1 << 9
_MOST_FEED: Final = 1 << 16
_PADDING: Final = re.compile(rb"\0*")
_GZIP_WINDOW: Final = 16 + zlib.MAX_WBITS


@dataclass(frozen=True)
class FileStamp:
    """What tells cheaply whether a file is still the one that was seen: size and the two times of a
    change.
    """

    size: int
    modified_ns: int
    changed_ns: int

    @classmethod
    def of(cls, path: Path) -> "FileStamp":
        """The stamp of the file at `path` as it is now."""
        stat = path.stat()
        return cls(stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns)


def read_bytes(path: Path, file: str, max_mb: float, limit: str = "max_log_mb") -> bytes:
    """The bytes of a plain file. Raises RefusedFile where it is larger than the limit or has become
    a link, a pipe or the like since it was found.
    """
    # Not following a link and not waiting for a pipe: the file may have been swapped just now.
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as error:
        if error.errno != errno.ELOOP:
            raise
        raise RefusedFile([_no_file(file)]) from None
    with os.fdopen(handle, "rb") as source:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise RefusedFile([_no_file(file)])
        content = source.read(int(max_mb * MEGABYTE) + 1)
    if len(content) > max_mb * MEGABYTE:
        raise RefusedFile([_too_large(file, max_mb, "the file is", limit)])
    return content


def _no_file(file: str) -> Reason:
    return make_reason("not_a_file", file, "this is no file", "put the file itself there")


def sha256_of(content: bytes) -> str:
    """The SHA-256 in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def unpack(content: bytes, file: str, max_mb: float) -> bytes:
    """The text inside gzip bytes. Raises RefusedFile where it is cut off, damaged or larger than
    the limit.
    """
    out = io.BytesIO()
    at = 0
    try:
        while at < len(content):
            at = _unpack_member(content, at, out, file, max_mb)
            padding = _PADDING.match(content, at)
            at = at if padding is None else padding.end()
    except zlib.error as error:
        said = f"the gzip file is damaged ({error})"
        raise RefusedFile([make_reason("damaged_gzip", file, said, "copy it again")]) from None
    return out.getvalue()


def _unpack_member(content: bytes, at: int, out: io.BytesIO, file: str, max_mb: float) -> int:
    """Unpack the member of a gzip file that starts at `at` into `out`; gives where it ends (there may
    be several).
    """
    stream = zlib.decompressobj(_GZIP_WINDOW)
    whole, rest, feed = memoryview(content), b"", _FIRST_FEED
    while not stream.eof:
        # Fed in small pieces, the first the smallest: what is left of one is copied each time, and a
        # file may hold millions of members.
        given = rest or whole[at : at + feed]
        at += 0 if rest else len(given)
        feed = min(2 * feed, _MOST_FEED)
        piece = stream.decompress(given, _CHUNK)
        rest = stream.unconsumed_tail
        out.write(piece)
        if out.tell() > int(max_mb * MEGABYTE):
            raise RefusedFile([_too_large(file, max_mb, "unpacked, the file is")])
        if not piece and not given and not stream.eof:
            said = "the gzip file is cut off"
            raise RefusedFile([make_reason("truncated_gzip", file, said, "copy it again")])
    return at - len(stream.unused_data)


def _too_large(file: str, max_mb: float, what: str, limit: str = "max_log_mb") -> Reason:
    said = f"{what} larger than the limit of {max_mb:g} MB"
    mend = f"split it, or raise landing.{limit} in school.toml if it is meant to be that large"
    return make_reason("too_large", file, said, mend)
