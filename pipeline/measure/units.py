"""The unit of measuring: one immutable samples file, and what its figures are a function of."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline import relations
from pipeline.errors import StoreDamaged
from pipeline.reading import measure_path
from pipeline.settings import Settings
from pipeline.store import Warehouse, read_metadata

NEUTRALS = pa.schema(
    [
        ("device_id", pa.string()),
        ("session_date", pa.date32()),
        ("pitch_neutral", pa.float64()),
    ]
)
"""The neutrals that a session's settling and hands-off readings are made with."""


@dataclass(frozen=True)
class Unit:
    """One samples file to measure, and which of its relations are wanted.

    `devices` are the names of the store's lists of devices, where they were looked up for all units at once.
    """

    root: Path
    samples_file: Path
    digest: str
    settings: Settings
    relations: tuple[str, ...]
    neutrals: pa.Table
    devices: tuple[str, ...] | None = None

    @property
    def batch_id(self) -> str:
        """The batch that brought the file."""
        return self.samples_file.stem

    @property
    def session_date(self) -> date:
        """The UTC date of every session in the file."""
        return date.fromisoformat(self.samples_file.parent.name.removeprefix("session_date="))

    @property
    def name(self) -> str:
        """How a report names the unit."""
        return f"{self.session_date.isoformat()}/{self.batch_id}"

    @property
    def row_count(self) -> int:
        """How many samples the file holds, as its batch's sessions tell.

        Raises StoreDamaged where these cannot be read.
        """
        path = Warehouse(self.root).table_path("sessions", self.batch_id)
        try:
            told = pq.read_table(path, columns=["session_date", "sample_count"], partitioning=None)
        except (OSError, pa.ArrowException) as error:
            raise StoreDamaged(
                f"sessions of {path.stem}: cannot be read; run `levelhold check` to see how to mend it"
            ) from error
        of_the_day = pc.equal(told["session_date"], pa.scalar(self.session_date))
        return int(pc.sum(told["sample_count"].filter(of_the_day)).as_py() or 0)

    def output(self, relation: str) -> Path:
        """Where a kept relation of this file lies."""
        day = self.session_date.isoformat()
        return measure_path(Warehouse(self.root), self.digest, relation, day, self.batch_id)

    def fingerprint(self) -> str:
        """What the figures are a function of; a samples file never changes, its name tells it."""
        parts = [self.digest, self.samples_file.name, self.samples_file.stat().st_size]
        if any(rests_on_neutrals(name) for name in self.relations):
            devices = device_lists(Warehouse(self.root)) if self.devices is None else self.devices
            parts += [self.neutrals.to_pylist(), list(devices)]
        return hashlib.sha256(repr(parts).encode()).hexdigest()

    def is_current(self) -> bool:
        """Whether every wanted relation is there with this fingerprint."""
        fingerprint = self.fingerprint()
        return all(_written(self.output(name)) == fingerprint for name in self.relations)

    def outdated(self) -> tuple[Path, ...]:
        """The wanted relations' files that are there and have another fingerprint."""
        fingerprint = self.fingerprint()
        found = (self.output(name) for name in self.relations)
        return tuple(p for p in found if p.exists() and _written(p) != fingerprint)


def device_lists(warehouse: Warehouse) -> tuple[str, ...]:
    """The names of the files that list devices: each is written once and never again."""
    return tuple(path.name for path in warehouse.table_files("devices"))


def rests_on_neutrals(name: str) -> bool:
    """Whether a kept relation needs the devices' neutrals (its own floor is 5)."""
    return relations.relation_files()[name].floor >= 5


def _written(path: Path) -> str | None:
    """The fingerprint a file was written with; None where it is missing or spoiled: it is measured again."""
    if not path.exists():
        return None
    try:
        return str(read_metadata(path).get("fingerprint"))
    except StoreDamaged:
        return None
