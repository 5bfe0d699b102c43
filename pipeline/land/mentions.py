"""Where a student is named: in text, in JSON, in tables. What forgetting looks for, and what proves it."""

import gzip
import json
import re
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.store import Warehouse
from pipeline.store.write import METADATA_KEY

Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]
"""What a piece of JSON may hold."""

SESSION_COLUMNS: Final = ("session_id", "maneuver_id", "log_name", "name")
_NEVER_A_STUDENT: Final = ("instructor_id", "device_id", "aircraft_type", "cohort")


@dataclass(frozen=True)
class Named:
    """One student's code and those of their sessions; says of text and values whether they name one."""

    student_id: str
    session_ids: frozenset[str]

    @cached_property
    def _student(self) -> re.Pattern[str]:
        return _whole_words([self.student_id])

    @cached_property
    def _anyone(self) -> re.Pattern[str]:
        return _whole_words([self.student_id, *self.session_ids])

    def student_in(self, text: str) -> bool:
        """Whether the student's code stands in the text as a word of its own."""
        return self._student.search(text) is not None

    def anything_in(self, text: str) -> bool:
        """Whether the student's code or one of their sessions stands in the text."""
        return self._anyone.search(text) is not None

    def redacted(self, text: str) -> str:
        """The text with the codes taken out."""
        return self._anyone.sub("(forgotten)", text)

    def is_session(self, value: str | None) -> bool:
        """Whether a value is one of the sessions, one of their maneuvers or the name of their log."""
        if value is None:
            return False
        word = value.removeprefix("logs/")
        ending = next((e for e in (".csv.gz", ".csv", ".parquet") if word.endswith(e)), "")
        is_maneuver = bool(re.search(r"\.\d+\.i?\d+$", word))
        plain = word.rsplit(".", 2)[0] if is_maneuver else word.removesuffix(ending)
        return word in self.session_ids or plain in self.session_ids

    def without(self, value: Json) -> Json:
        """JSON without what names them: items of lists and entries of objects go, other text is redacted."""
        if isinstance(value, str):
            return self.redacted(value)
        if isinstance(value, list):
            return [self.without(item) for item in value if not self.any_in(item)]
        if isinstance(value, dict):
            return {k: self.without(v) for k, v in value.items() if not self.anything_in(str(k))}
        return value

    def any_in(self, value: Json) -> bool:
        """Whether anything in a piece of JSON names them, keys included."""
        if isinstance(value, str):
            return self.anything_in(value)
        if isinstance(value, dict):
            return any(self.anything_in(str(k)) or self.any_in(v) for k, v in value.items())
        return isinstance(value, list) and any(self.any_in(item) for item in value)


def files_that_name(warehouse: Warehouse, named: Named) -> Iterator[str]:
    """Every file of the store, by its path in it, that names the student or one of their sessions.

    Reads all of it, but of tables only the columns of text.
    """
    for path in sorted(p for p in warehouse.root.rglob("*") if p.is_file()):
        file = path.relative_to(warehouse.root).as_posix()
        if named.anything_in(file) or is_named_in(path, named):
            yield file


def is_named_in(path: Path, named: Named) -> bool:
    """Whether a file's content names the student or one of their sessions."""
    if path.suffix == ".parquet":
        try:
            return _table_names(path, named)
        except (OSError, pa.ArrowException):
            return _text_names(path, named)
    return _text_names(path, named)


def _table_names(path: Path, named: Named) -> bool:
    """Whether a Parquet file names them in a column of text or in its metadata."""
    file = pq.ParquetFile(path)
    told = _json_of((file.metadata.metadata or {}).get(METADATA_KEY, b"{}"))
    logs = told.get("fingerprints") if isinstance(told, dict) else None
    if isinstance(logs, dict) and not named.session_ids.isdisjoint(logs):
        return True
    columns = [f.name for f in file.schema_arrow if _is_text(f.type)]
    table = file.read(columns=columns)
    return any(_column_names(table[name], name, named) for name in columns)


def _text_names(path: Path, named: Named) -> bool:
    """Whether a file of text, packed or not, names the student; JSON of ours, their sessions too."""
    text = _text_of(path)
    if path.suffix == ".json":
        return named.any_in(_json_of(text.encode("utf-8", "surrogateescape")))
    return named.student_in(text)


def _json_of(content: bytes) -> Json:
    """What a piece of JSON holds; the text itself where it is none."""
    try:
        found: Json = json.loads(content)
        return found
    except ValueError:
        return content.decode("utf-8", "replace")


def _text_of(path: Path) -> str:
    content = path.read_bytes()
    if path.suffix == ".gz":
        # One that is damaged, which is why it was refused, is looked through as it is.
        with suppress(OSError, EOFError, zlib.error):
            content = gzip.decompress(content)
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", "replace")
    return content.decode("utf-8", "surrogateescape")


def _column_names(column: pa.ChunkedArray, name: str, named: Named) -> bool:
    values: Iterable[str | None] = column.combine_chunks().unique().to_pylist()
    if name in SESSION_COLUMNS and any(named.is_session(value) for value in values):
        return True
    if name in _NEVER_A_STUDENT:
        return False
    return any(value is not None and named.student_in(value) for value in values)


def _is_text(kind: pa.DataType) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind))


def _whole_words(words: Iterable[str]) -> re.Pattern[str]:
    longest_first = sorted(words, key=len, reverse=True)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, longest_first))})(?![\w-])")
