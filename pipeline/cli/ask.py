"""Commands that only read: query."""

import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import AsOf, Format, WarehouseFolder, as_date, existing_warehouse
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection, DuckDBPyRelation

    from pipeline.settings import Settings
    from pipeline.store.warehouse import Warehouse


def query(
    sql: Annotated[str, typer.Argument(metavar="SQL", help="One SELECT over any relation.")],
    warehouse: WarehouseFolder,
    shape: Annotated[Format, typer.Option("--format", help="How to print the rows.")] = "table",
    output: Annotated[
        Path | None,
        typer.Option("--output", metavar="FILE", help="Write here, not to standard output."),
    ] = None,
    as_of: AsOf = None,
) -> None:
    """Answer one SELECT over the relations by their names.

    In CSV a text that a spreadsheet would run as a formula is led by an apostrophe.

    Example: levelhold query --warehouse demo/warehouse "SELECT * FROM flags"
    """
    from pipeline.reading import STORED, open_warehouse, school_settings
    from pipeline.relations import names_in

    place = existing_warehouse(warehouse)
    _refuse_all_but_select(sql)
    settings = school_settings(place)
    names = (*names_in(sql), *(name for name in STORED if name in sql))
    hint_at_unmeasured(place, settings, names)
    con = open_warehouse(place, settings, names, as_of=as_date(as_of))
    content = _answer(con, sql, shape)
    if output is not None:
        output.write_bytes(content)
    elif shape == "parquet" and sys.stdout.isatty():
        raise UsageError("parquet is not text: add --output FILE, or send it to a file")
    else:
        sys.stdout.buffer.write(content)


def _refuse_all_but_select(sql: str) -> None:
    """Reading is all that a query may do: COPY, CREATE, SET and the like are refused."""
    import duckdb

    try:
        statements = duckdb.extract_statements(sql)
    except duckdb.Error as error:
        raise UsageError(f"the query is not SQL: {_first_line(error)}") from error
    allowed = {duckdb.StatementType.SELECT, duckdb.StatementType.EXPLAIN}
    if len(statements) != 1 or statements[0].type not in allowed:
        raise UsageError("a query is one SELECT: it reads, and changes nothing")


def _answer(con: "DuckDBPyConnection", sql: str, shape: Format) -> bytes:
    """The rows of the query as the bytes to hand over."""
    import duckdb

    from pipeline.cli import tables

    try:
        relation = con.sql(sql)
        if shape == "parquet":
            return _as_parquet(relation)
        names, rows = relation.columns, relation.fetchall()
    except duckdb.Error as error:
        raise UsageError(f"the query failed: {_first_line(error)}{_nearest(error)}") from error
    write = {"table": tables.as_table, "csv": tables.as_csv, "json": tables.as_json}[shape]
    return write(names, rows).encode()


def _as_parquet(relation: "DuckDBPyRelation") -> bytes:
    import io

    import pyarrow.parquet as pq

    buffer = io.BytesIO()
    pq.write_table(relation.to_arrow_table(), buffer, compression="zstd")
    return buffer.getvalue()


def hint_at_unmeasured(warehouse: "Warehouse", settings: "Settings", names: Sequence[str]) -> None:
    """One line on standard error where some landed files have no figures under these settings.

    Raises UsageError where none has any and `names` tell figures: an empty answer would lie.
    """
    from pipeline.reading import STORED, definitions, kept_files
    from pipeline.relations import needed_for

    found = definitions(settings)
    landed = len(warehouse.sample_files())
    measured = len(kept_files(warehouse, found.digest, found.kept[0]))
    if measured == landed:
        return
    said = (
        f"{landed - measured} of {landed} samples files are not measured under the settings and "
        "definitions of today; run levelhold score first"
    )
    if measured == 0 and any(relation.is_kept for relation in needed_for(names, STORED)):
        raise UsageError(said)
    print(f"levelhold: {said}", file=sys.stderr)


def _nearest(error: Exception) -> str:
    """The relation or column most like one that the query asked for and there is not."""
    from pipeline.relations import relation_files
    from pipeline.settings import nearest

    said = str(error)
    if (missing := re.search(r"Table with name (\w+) does not exist", said)) is not None:
        return nearest(missing.group(1), relation_files())
    if (missing := re.search(r'Referenced column "(\w+)" not found', said)) is not None:
        _, _, candidates = said.partition("Candidate bindings: ")
        return nearest(missing.group(1), re.findall(r'"(?:\w+\.)?(\w+)"', candidates))
    return ""


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0].rstrip("!")
