"""The bytes of one log: read within a limit, hashed as they lie on disk, unpacked within the same
limit.
"""

import hashlib
import io
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pipeline.land.faults import RefusedFile, make_reason
from pipeline.reports import Reason

MEGABYTE: Final = 1_000_000
_CHUNK: Final = 1 << 20
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


def read_bytes(path: Path, file: str, max_mb: float) -> bytes:
    """The bytes of the file. Raises RefusedFile where it is larger than the limit."""
    with path.open("rb") as handle:
        content = handle.read(int(max_mb * MEGABYTE) + 1)
    if len(content) > max_mb * MEGABYTE:
        raise RefusedFile([_too_large(file, max_mb, "the file is")])
    return content


def sha256_of(content: bytes) -> str:
    """The SHA-256 in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def unpack(content: bytes, file: str, max_mb: float) -> bytes:
    """The text inside gzip bytes. Raises RefusedFile where it is cut off, damaged or larger than
    the limit.
    """
    limit = int(max_mb * MEGABYTE)
    out = io.BytesIO()
    rest = content
    try:
        while rest:
            rest = _unpack_member(rest, out, limit, file, max_mb)
    except zlib.error as error:
        said = f"the gzip file is damaged ({error})"
        raise RefusedFile([make_reason("damaged_gzip", file, said, "copy it again")]) from None
    return out.getvalue()


def _unpack_member(content: bytes, out: io.BytesIO, limit: int, file: str, max_mb: float) -> bytes:
    """Unpack one member of a gzip file into `out`; gives back what follows it (there may be
    several).
    """
    stream = zlib.decompressobj(_GZIP_WINDOW)
    rest = content
    while not stream.eof:
        piece = stream.decompress(rest, _CHUNK)
        rest = stream.unconsumed_tail
        out.write(piece)
        if out.tell() > limit:
            raise RefusedFile([_too_large(file, max_mb, "unpacked, the file is")])
        if not piece and not rest and not stream.eof:
            said = "the gzip file is cut off"
            raise RefusedFile([make_reason("truncated_gzip", file, said, "copy it again")])
    return stream.unused_data.lstrip(b"\0")


def _too_large(file: str, max_mb: float, what: str) -> Reason:
    said = f"{what} larger than the limit of {max_mb:g} MB"
    mend = "split the session or raise landing.max_log_mb in school.toml"
    return make_reason("too_large", file, said, mend)
