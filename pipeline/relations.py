"""The relations of `sql/`: read their headers, put them in run order, build them in a DuckDB connection.

Python's one trick is *binding*: a relation that is bound (to files or to a table) takes the place of
the SQL file of the same name; everything above it is built from SQL as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from graphlib import TopologicalSorter
from importlib import resources
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.errors import RelationFailed, StoreDamaged, UsageError

Binding = pa.Table | Sequence[Path]

_HEADER_LINE = re.compile(r"^-- ?(.*)$")
_FIELD = re.compile(r"^(Inputs|Grain|Units|Kept|Source): ?(.*)$")
_CREATE = re.compile(r"^CREATE OR REPLACE (VIEW|TABLE) (\w+) AS$", re.MULTILINE)


@dataclass(frozen=True)
class RelationFile:
    """One SQL file: the relation it makes and what its header says of it.

    `is_kept`: measuring writes it once beside each samples file, so that nothing is read twice.
    """

    name: str
    floor: int
    floor_name: str
    path: Path
    is_table: bool
    is_kept: bool
    sentence: str
    inputs: tuple[str, ...]
    grain: tuple[str, ...]
    units: str
    source: str
    text: str


def sql_root() -> Path:
    """The folder that holds the floors of SQL: inside the wheel, or beside the package in a checkout."""
    packed = Path(str(resources.files("pipeline") / "_sql"))
    return packed if packed.is_dir() else Path(__file__).resolve().parent.parent / "sql"


def parse_header(text: str) -> dict[str, str]:
    """The header's sentence and its Inputs, Grain, Units and Source, each as one line of text."""
    fields: dict[str, str] = {}
    current = "sentence"
    for line in text.splitlines():
        comment = _HEADER_LINE.match(line)
        if comment is None:
            break
        field = _FIELD.match(comment.group(1))
        if field is not None:
            current, words = field.group(1).lower(), field.group(2)
        else:
            words = comment.group(1)
        fields[current] = f"{fields.get(current, '')} {words}".strip()
    return fields


def _names(text: str) -> tuple[str, ...]:
    """The names of a comma-separated header field; a remark in brackets is left out."""
    bare = re.sub(r"\(.*?\)", "", text).strip().rstrip(".")
    return () if bare in {"", "none"} else tuple(n.strip() for n in bare.split(","))


def read_relation(path: Path) -> RelationFile:
    """One SQL file with its header read. Raises RelationFailed when the file breaks the house form."""
    return relation_of(path, path.read_text(encoding="utf-8"))


def relation_of(path: Path, text: str) -> RelationFile:
    """The relation that a text makes which lies, or once lay, at a path of a floor.

    Raises RelationFailed when it breaks the house form.
    """
    fields = parse_header(text)
    created = _CREATE.search(text)
    if created is None or created.group(2) != path.stem:
        raise RelationFailed(f"{path.name}: must hold CREATE OR REPLACE VIEW {path.stem} AS")
    missing = {"sentence", "inputs", "grain", "units", "source"} - fields.keys()
    if missing:
        raise RelationFailed(f"{path.name}: header lacks {', '.join(sorted(missing))}")
    return RelationFile(
        name=path.stem,
        floor=int(path.parent.name.split("_", 1)[0]),
        floor_name=path.parent.name,
        path=path,
        is_table=created.group(1) == "TABLE",
        is_kept="kept" in fields,
        sentence=fields["sentence"],
        inputs=_names(fields["inputs"]),
        grain=_names(fields["grain"]),
        units=fields["units"],
        source=fields["source"],
        text=text,
    )


@cache
def relation_files() -> Mapping[str, RelationFile]:
    """Every relation by name, in an order in which each stands after its inputs."""
    return in_run_order(read_relation(p) for p in sorted(sql_root().glob("*/*.sql")))


def in_run_order(relations: Iterable[RelationFile]) -> Mapping[str, RelationFile]:
    """Relations by name, each after its inputs. Raises RelationFailed where one names no relation."""
    found = {relation.name: relation for relation in relations}
    for relation in found.values():
        for name in relation.inputs:
            if name not in found:
                raise RelationFailed(f"{relation.path.name}: input {name} is no relation")
    order = TopologicalSorter({r.name: r.inputs for r in found.values()}).static_order()
    return {name: found[name] for name in order}


def needed_for(
    names: Iterable[str],
    bound: Iterable[str] = (),
    among: Mapping[str, RelationFile] | None = None,
) -> tuple[RelationFile, ...]:
    """The relations to build so that `names` can be read, inputs first; those bound need nothing.

    `among` holds the relations there are (default: today's). Raises UsageError when a name is none of them.
    """
    files, settled = relation_files() if among is None else among, set(bound)
    wanted: set[str] = set()
    todo = [n for n in names if n not in settled]
    while todo:
        name = todo.pop()
        if name not in files:
            raise UsageError(f"there is no relation {name}")
        if name not in wanted:
            wanted.add(name)
            todo += [i for i in files[name].inputs if i not in settled]
    return tuple(r for r in files.values() if r.name in wanted)


def connect(folder: Path | None = None, *, threads: int = 1) -> duckdb.DuckDBPyConnection:
    """An in-memory DuckDB connection in UTC that loads no extension and reads files only under `folder`.

    Without a folder it reads no file at all.
    """
    con = duckdb.connect(
        config={
            "threads": threads,
            "autoinstall_known_extensions": "false",
            "autoload_known_extensions": "false",
        }
    )
    con.execute("SET TimeZone = 'UTC'")
    con.execute("SET enable_progress_bar = false")  # it would write into what a command prints
    if folder is not None:
        con.execute("SET allowed_directories = [?]", [f"{folder.resolve()}/"])
    con.execute("SET enable_external_access = false")
    return con


def bind_files(
    con: duckdb.DuckDBPyConnection, name: str, files: Sequence[Path], schema: pa.Schema
) -> None:
    """Give the relation `name` the rows of some Parquet files; none gives no rows, columns as in `schema`.

    Raises StoreDamaged where a file cannot be read or lacks a column.
    """
    if not files:
        con.register(name, schema.empty_table())
        return
    listed = ", ".join(_quoted(str(path.resolve())) for path in files)
    columns = ", ".join(schema.names)
    view = (
        f"CREATE OR REPLACE VIEW {name} AS SELECT {columns} "
        f"FROM READ_PARQUET([{listed}], hive_partitioning = false)"
    )
    try:
        con.execute(view)
    except duckdb.Error as error:
        first_line = str(error).splitlines()[0]
        raise StoreDamaged(f"{name}: {first_line}; restore the file from a backup") from error


def bind_table(con: duckdb.DuckDBPyConnection, name: str, table: pa.Table) -> None:
    """Give the relation `name` the rows of a table in memory."""
    con.register(name, table)


def build(
    con: duckdb.DuckDBPyConnection,
    names: Iterable[str],
    bound: Iterable[str] = (),
    among: Mapping[str, RelationFile] | None = None,
) -> tuple[str, ...]:
    """Build `names` and what they need from SQL, skipping what is bound; gives the names built, in order.

    Raises RelationFailed, naming the relation, when its SQL does not run.
    """
    relations = needed_for(names, bound, among)
    for relation in relations:
        _make(con, relation)
    return tuple(r.name for r in relations)


def build_sparing(
    con: duckdb.DuckDBPyConnection, names: Sequence[str], bound: Iterable[str] = ()
) -> None:
    """Build `names` and what they need, as `build` does, in little memory.

    A table that `names` do not read is dropped as soon as nothing that is still to be built reads it.
    """
    relations = needed_for(names, bound)
    reads = _tables_read(relations)
    standing = {t for r in relations if r.name in names for t in _tables_of(r, reads)}
    for place, relation in enumerate(relations):
        _make(con, relation)
        later = standing.union(*(reads[r.name] for r in relations[place + 1 :]))
        for name in reads[relation.name] - later:
            con.execute(f"DROP TABLE {name}")


def _tables_read(relations: Sequence[RelationFile]) -> dict[str, set[str]]:
    """The tables among some relations that building each of them reads, those behind views with them."""
    found: dict[str, set[str]] = {}
    by_name = {r.name: r for r in relations}
    for relation in relations:
        inputs = (by_name[i] for i in relation.inputs if i in by_name)
        found[relation.name] = {t for i in inputs for t in _tables_of(i, found)}
    return found


def _tables_of(relation: RelationFile, reads: Mapping[str, set[str]]) -> set[str]:
    """The tables that reading a relation reads: itself, or those behind a view."""
    return {relation.name} if relation.is_table else reads[relation.name]


def _make(con: duckdb.DuckDBPyConnection, relation: RelationFile) -> None:
    try:
        con.execute(relation.text)
    except duckdb.Error as error:
        first_line = str(error).splitlines()[0]
        raise RelationFailed(f"relation {relation.name}: {first_line}") from error


def names_in(query: str) -> tuple[str, ...]:
    """The relations that a query speaks of, by their names as words."""
    words = set(re.findall(r"\w+", query))
    return tuple(name for name in relation_files() if name in words)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
