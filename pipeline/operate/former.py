"""The definitions that the figures of a store were last told by, kept beside them to be compared with."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from shutil import rmtree
from typing import Any, Final

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from pipeline import __version__, relations
from pipeline.errors import LevelholdError
from pipeline.reading import (
    STORED,
    bind_store,
    definitions,
    kept_files,
    reads_samples,
    settings_tables,
    whole_units,
)
from pipeline.relations import RelationFile
from pipeline.settings import Settings
from pipeline.store import Warehouse, write_bytes
from pipeline.store.warehouse import Snapshot

NAME: Final = "definitions.json"
"""The file's name, in the folder of the measures that were made by what it holds."""


@dataclass(frozen=True)
class Definitions:
    """All that figures and flags are a function of beside the stored rows.

    `digest` names the folder of the measures. `sql` is the text of each relation by floor and name;
    `tables` are the school's own limits, standards and stages, as rows.
    """

    version: str
    digest: str
    sql: Mapping[str, str]
    tables: Mapping[str, list[dict[str, Any]]]

    def is_same(self, other: Definitions) -> bool:
        """Whether both say the same; the version that says it does not matter."""
        return (self.digest, self.sql, self.tables) == (other.digest, other.sql, other.tables)

    def relations(self) -> Mapping[str, RelationFile]:
        """The relations in run order. Raises RelationFailed where one is not in the form of today."""
        found = (
            relations.relation_of(Path(f"{place}.sql"), text) for place, text in self.sql.items()
        )
        return relations.in_run_order(found)


def definitions_of_today(settings: Settings) -> Definitions:
    """Those of this version of the program, under these settings."""
    sql = {f"{r.floor_name}/{r.name}": r.text for r in relations.relation_files().values()}
    tables = {name: table.to_pylist() for name, table in settings_tables(settings).items()}
    return Definitions(__version__, definitions(settings).digest, sql, tables)


def keep_definitions(warehouse: Warehouse, current: Definitions) -> None:
    """Put on record what the night told its figures by, and remove measures of all other definitions.

    To be called when a night has ended well: until then what was before lies untouched, so that the
    version before finds its own measures again.
    """
    path = warehouse.measures / current.digest / NAME
    if _read(path) != current:
        text = json.dumps(asdict(current), ensure_ascii=False, sort_keys=True)
        write_bytes(text.encode(), path)
    for folder in sorted(warehouse.measures.iterdir()):
        if folder.is_dir() and folder.name != current.digest:
            rmtree(folder)


def former_definitions(warehouse: Warehouse, current: Definitions) -> Definitions | None:
    """What the last night that ended well told its figures by; None where that is not known, or is the same.

    A record that cannot be read counts as none: measures may be deleted at any time.
    """
    places = sorted(warehouse.measures.glob(f"*/{NAME}"), key=lambda path: path.stat().st_mtime_ns)
    found = [kept for path in places if (kept := _read(path)) is not None]
    return None if not found or found[-1].is_same(current) else found[-1]


def _read(path: Path) -> Definitions | None:
    try:
        return Definitions(**json.loads(path.read_text(encoding="utf-8")))
    except (FileNotFoundError, ValueError, TypeError):
        return None


def shared_moment(warehouse: Warehouse, former: Definitions, current: Definitions) -> Snapshot:
    """The store, held to the batches whose samples are all measured by both definitions."""
    whole = [set(whole_units(warehouse, d.digest, _kept(d.relations()))) for d in (former, current)]
    measured = set.intersection(*whole)
    apart = {
        path.stem
        for path in warehouse.sample_files()
        if (path.parent.name.removeprefix("session_date="), path.stem) not in measured
    }
    moment = warehouse.snapshot()
    batches = tuple(batch for batch in moment.batches if batch not in apart)
    return Snapshot(warehouse.root, batches, moment.review_files)


def open_by(
    moment: Warehouse, given: Definitions, names: Iterable[str]
) -> duckdb.DuckDBPyConnection:
    """A connection in which `names` can be read as these definitions make them of the store at a moment.

    The moment holds at least one session that they measured. Raises an error of ours where the program of
    today cannot build them.
    """
    con, files = relations.connect(moment.root), given.relations()
    try:
        names, bound = tuple(names), {*STORED, *given.tables, *_kept(files)}
        needed = relations.needed_for(names, bound, files)
        bind_store(con, moment, with_samples=reads_samples(names, needed))
        bind_school(con, given)
        for name in _kept(files):
            paths = kept_files(moment, given.digest, name)
            relations.bind_files(con, name, paths, pq.read_schema(paths[0]))
        relations.build(con, names, bound, files)
    except LevelholdError:
        con.close()
        raise
    return con


def bind_school(con: duckdb.DuckDBPyConnection, given: Definitions) -> set[str]:
    """Bind the school's own limits, standards and stages, as they were; gives the names bound."""
    today = settings_tables(Settings())
    for name, rows in given.tables.items():
        schema = today[name].schema if name in today else None
        relations.bind_table(con, name, pa.Table.from_pylist(rows, schema=schema))
    return set(given.tables)


def _kept(files: Mapping[str, RelationFile]) -> tuple[str, ...]:
    return tuple(name for name, relation in files.items() if relation.is_kept)
