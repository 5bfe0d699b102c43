"""A mark beside the store while a Parquet log is read, so that a log cannot end every night.

A damaged or malicious Parquet file may end the whole process inside the library that reads it, where
no error can be caught. The mark outlives the process; a log under whose mark two runs have died is
refused and no longer opened. One death may be a power cut, and is forgiven.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pipeline.land.faults import make_reason
from pipeline.reports import Reason
from pipeline.store import Warehouse

MOST_DEATHS: Final = 2
_NAME: Final = ".reading.json"


@dataclass(frozen=True)
class ReadingMark:
    """Which content an earlier run died on, and how many runs in a row did."""

    path: Path
    sha256: str | None = None
    deaths: int = 0

    def fault(self, file: str, sha256: str) -> Reason | None:
        """Why a log is not opened again; None where it may be read."""
        if sha256 != self.sha256 or self.deaths < MOST_DEATHS:
            return None
        said = f"{self.deaths} runs have ended while they read it"
        return make_reason("ended_the_run", file, said, "deliver the log again as CSV")

    @contextmanager
    def reading(self, sha256: str) -> Iterator[None]:
        """The mark stands while the block runs; it stays where the process ends within."""
        deaths = self.deaths if sha256 == self.sha256 else 0
        content = json.dumps({"sha256": sha256, "deaths": deaths + 1})
        self.path.write_text(content, encoding="utf-8")
        try:
            yield
        finally:
            self.path.unlink(missing_ok=True)


def left_mark(warehouse: Warehouse) -> ReadingMark:
    """The mark as the last run left it; an empty one where it ended well, or the mark is damaged."""
    path = warehouse.root / _NAME
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        return ReadingMark(path, str(content["sha256"]), int(content["deaths"]))
    except (OSError, ValueError, KeyError, TypeError):
        # No mark, or one that was cut off: nothing is known against any log.
        return ReadingMark(path)
