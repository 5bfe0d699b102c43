"""The register of releases, in the store: who was in which released cell, so that two releases
cannot be differenced.

One file per release under releases/. It names students by the school's own codes and stays in the
store.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.errors import StoreDamaged
from pipeline.export.disclosure import Cell, Contribution
from pipeline.store import Warehouse, read_metadata, write_parquet

_SCHEMA = pa.schema(
    [
        pa.field("part", pa.string(), nullable=False),
        pa.field("name", pa.string(), nullable=False),
        pa.field("student_id", pa.string(), nullable=False),
        pa.field("digest", pa.string(), nullable=False),
    ]
)


@dataclass(frozen=True)
class Release:
    """What is on record of one release.

    `cells` are those that were shown; `opened` the contributions that its rows tell; `rows` the
    sessions of each student whose rows it holds; `traits` what it shows of each of them; `facts` is
    what makes it again (choice, batches).
    """

    release_id: str
    cells: tuple[Cell, ...] = ()
    opened: frozenset[Contribution] = frozenset()
    rows: frozenset[tuple[str, str]] = frozenset()
    traits: Mapping[str, str] = field(default_factory=dict)
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def level(self) -> str | None:
        """The level that it was asked for at; None if not known."""
        level = self.facts.get("choice", {}).get("level")
        return None if level is None else str(level)

    def meets(self, other: Release) -> bool:
        """Whether the times that the two were asked for have a day in common; True if not known."""
        mine, theirs = self.facts.get("choice", {}), other.facts.get("choice", {})
        return _starts_by(mine, theirs) and _starts_by(theirs, mine)


def _starts_by(choice: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether the time of one choice starts before that of the other has ended (dates as ISO text)."""
    first, last = choice.get("first_date"), other.get("last_date")
    return first is None or last is None or str(first) <= str(last)


def _path(warehouse: Warehouse, release_id: str) -> Path:
    return warehouse.root / "releases" / f"{release_id}.parquet"


def write_release(warehouse: Warehouse, release: Release) -> None:
    """Put one release on record."""
    entries = [
        *(("cell", c.cell_id, *part) for c in release.cells for part in c.contributions),
        *(("opened", "", *part) for part in release.opened),
        *(("row", session_id, student_id, "") for student_id, session_id in release.rows),
        *(("traits", key, student_id, "") for student_id, key in release.traits.items()),
    ]
    rows = [dict(zip(_SCHEMA.names, entry, strict=True)) for entry in sorted(entries)]
    metadata = {"kind": "release", "release_id": release.release_id, "facts": dict(release.facts)}
    table = pa.Table.from_pylist(rows, schema=_SCHEMA)
    write_parquet(table, _path(warehouse, release.release_id), metadata)


def read_release(warehouse: Warehouse, release_id: str) -> Release:
    """What is on record of one release. Raises StoreDamaged where there is no readable record."""
    path = _path(warehouse, release_id)
    if not path.exists():
        raise StoreDamaged(
            f"releases/{path.name}: no record of this release; was it made from here?"
        )
    metadata = read_metadata(path)
    try:
        rows = pq.read_table(path, schema=_SCHEMA).to_pylist()
    except (OSError, pa.ArrowInvalid) as error:
        raise StoreDamaged(f"releases/{path.name}: unreadable; restore it from a backup") from error
    return _release(release_id, rows, metadata["facts"])


def _release(
    release_id: str, rows: Iterable[Mapping[str, str]], facts: Mapping[str, Any]
) -> Release:
    cells: dict[str, set[Contribution]] = defaultdict(set)
    opened, sessions, traits = set(), set(), {}
    for row in rows:
        contribution = Contribution(row["student_id"], row["digest"])
        match row["part"]:
            case "cell":
                cells[row["name"]].add(contribution)
            case "opened":
                opened.add(contribution)
            case "row":
                sessions.add((row["student_id"], row["name"]))
            case _:
                traits[row["student_id"]] = row["name"]
    kept = tuple(Cell(name, None, frozenset(parts)) for name, parts in sorted(cells.items()))
    return Release(release_id, kept, frozenset(opened), frozenset(sessions), traits, facts)


def all_releases(warehouse: Warehouse) -> tuple[Release, ...]:
    """Every release on record, oldest first."""
    found = sorted((warehouse.root / "releases").glob("r*.parquet"))
    return tuple(read_release(warehouse, path.stem) for path in found)
