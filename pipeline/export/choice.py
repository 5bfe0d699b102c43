"""What a release is asked to hold, and what came of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final, Literal

import pyarrow as pa

from pipeline.export.left_out import LeftOut

Level = Literal["cohort", "student", "maneuver"]

CELL_TABLES: Final = (
    "released_cells",
    "released_cells_wide",
    "released_curves",
    "released_left_out",
)
STUDENT_TABLES: Final = (
    "released_students",
    "released_student_weeks",
    "released_student_weeks_wide",
    "released_left_out",
)
MANEUVER_TABLES: Final = (
    "released_students",
    "released_maneuvers",
    "released_measures",
    "released_events",
    "released_left_out",
)
TABLES_OF_LEVEL: Final[dict[Level, tuple[str, ...]]] = {
    "cohort": CELL_TABLES,
    "student": STUDENT_TABLES,
    "maneuver": MANEUVER_TABLES,
}


@dataclass(frozen=True)
class ExportChoice:
    """What is asked for. Dates are UTC session dates, both included; None asks for all.

    `linked_to` is an earlier release whose codes are to be used again. `licence` (an SPDX
    identifier), `contact` and `ethics` (the consent or ethics basis) are words for the package, as
    they are to stand there.
    """

    level: Level = "cohort"
    first_date: date | None = None
    last_date: date | None = None
    cohort: str | None = None
    standard_id: str | None = None
    linked_to: str | None = None
    licence: str | None = None
    contact: str | None = None
    ethics: str | None = None

    @property
    def has_rows(self) -> bool:
        """Whether rows of single students are asked for."""
        return self.level != "cohort"

    def as_dict(self) -> dict[str, Any]:
        """The same as plain values for JSON."""
        plain = asdict(self)
        for name in ("first_date", "last_date"):
            plain[name] = None if plain[name] is None else plain[name].isoformat()
        return plain

    @classmethod
    def from_dict(cls, plain: dict[str, Any]) -> ExportChoice:
        """The choice that `as_dict` wrote."""
        given = dict(plain)
        for name in ("first_date", "last_date"):
            given[name] = None if given[name] is None else date.fromisoformat(given[name])
        return cls(**given)

    def table(self) -> pa.Table:
        """The one row of the relation export_choice."""
        schema = pa.schema(
            [
                ("level", pa.string()),
                ("first_date", pa.date32()),
                ("last_date", pa.date32()),
                ("asked_cohort", pa.string()),
                ("asked_standard_id", pa.string()),
            ]
        )
        row = {
            "level": self.level,
            "first_date": self.first_date,
            "last_date": self.last_date,
            "asked_cohort": self.cohort,
            "asked_standard_id": self.standard_id,
        }
        return pa.Table.from_pylist([row], schema=schema)


@dataclass(frozen=True)
class DisclosureReport:
    """What a release shows, what it withholds and why. It may be published: small counts are words.

    `refusals` are sentences; where there is one, nothing is released. `shown` and `withheld` count
    the cells of each table. `left_out` tells by reason who and what is not in it, `masked` what is
    masked in rows, `stands_out` what the k check does not cover.
    """

    level: Level
    minimum_students: int
    shown: dict[str, int]
    withheld: dict[str, int]
    is_consent_asked: bool
    left_out: tuple[LeftOut, ...]
    masked: dict[str, str]
    stands_out: dict[str, str]
    compared_releases: int
    refusals: tuple[str, ...] = ()

    @property
    def is_refused(self) -> bool:
        """Whether disclosure control forbids the release."""
        return bool(self.refusals)

    def as_dict(self) -> dict[str, Any]:
        """The same as plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class ExportReport:
    """What came of a release: where it lies (None: nothing was written), its rows by table, what
    was withheld.
    """

    release_id: str
    folder: Path | None
    rows: dict[str, int]
    disclosure: DisclosureReport


@dataclass(frozen=True)
class VerifyReport:
    """What came of making a release again: the files that are the same, differ, are missing or do
    not belong. `notes` say what else is not as it was: versions, settings.
    """

    release_id: str
    same: tuple[str, ...]
    different: tuple[str, ...]
    missing: tuple[str, ...]
    unknown: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def is_same(self) -> bool:
        """Whether the folder holds, byte for byte, what the store gives."""
        return not (self.different or self.missing or self.unknown)
