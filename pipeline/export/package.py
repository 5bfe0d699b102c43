"""All files of an export as bytes, from its tables: the same input gives the same bytes."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping
from importlib import resources
from typing import Any

import duckdb
import polars as pl
import pyarrow as pa

from pipeline import __version__, relations
from pipeline.export.choice import ExportChoice
from pipeline.export.data_files import csv_bytes, parquet_bytes
from pipeline.export.definitions_files import definition_files, definitions_digest
from pipeline.export.describe import (
    ID_CODES,
    PROFILE,
    Column,
    codebook_table,
    columns_of,
    file_resource,
    resource_name,
    table_resource,
)
from pipeline.export.gather import Judged
from pipeline.export.told import LICENCES, Told, citation
from pipeline.export.words import readme
from pipeline.reading import read_rows


def versions_here() -> dict[str, str]:
    """The versions of what makes an export, by name."""
    return {
        "levelhold": __version__,
        "python": platform.python_version(),
        "duckdb": duckdb.__version__,
        "polars": pl.__version__,
        "pyarrow": pa.__version__,
    }


def package_files(
    judged: Judged,
    tables: Mapping[str, pa.Table],
    created: str,
    school: str | None,
    versions: Mapping[str, str],
) -> dict[str, bytes]:
    """Every file of the export by its path. `created` is the date, `versions` what it says made it."""
    defined = definition_files(judged.con, tables)
    told = _told(judged, created, definitions_digest(defined), school)
    columns = {name: columns_of(name, table.schema) for name, table in tables.items()}
    data, described = _data(told, tables, columns)
    codebook = csv_bytes(codebook_table(columns))
    files = {
        **data,
        "codebook.csv": codebook,
        **defined,
        "README.md": readme(told, tables, _missing_codes(judged.con, tables)).encode(),
        "CITATION.cff": citation(told).encode(),
        "disclosure.json": _json(judged.report.as_dict()),
        "example.py": resources.files("pipeline.export").joinpath("example.py").read_bytes(),
        "datapackage.json": _json(
            _package(told, [*described, _codebook_resource(codebook)], judged.choice)
        ),
    }
    return files | {"run.json": _json(_run(told, tables, files, versions))}


def _told(judged: Judged, created: str, digest: str, school: str | None) -> Told:
    return Told(
        release_id=judged.release.release_id,
        created=created,
        version=__version__,
        digest=digest,
        school=school,
        choice=judged.choice,
        disclosure=judged.report,
        bound=_bounds(judged.con),
    )


def _bounds(con: duckdb.DuckDBPyConnection) -> str:
    """From which share on only a bound is told, by the size of the group, in a sentence."""
    relations.build(con, ["share_bounds"])
    query = """
        SELECT b.least_students, LEAST(b.bound, k.share_bound)
        FROM share_bounds AS b
        CROSS JOIN limits AS k
        ORDER BY b.least_students
    """
    told: dict[str, str] = {}
    for least, bound in read_rows(con, query):
        told.setdefault(f"{float(str(bound)):g}", str(least))
    parts = [f"{b} from {n} students on" if n != "0" else b for b, n in told.items()]
    return f"The bound is {', '.join(parts)} (and its complement)."


def _data(
    told: Told, tables: Mapping[str, pa.Table], columns: Mapping[str, tuple[Column, ...]]
) -> tuple[dict[str, bytes], list[dict[str, Any]]]:
    """The files under data/ and their resources, CSV and Parquet."""
    files: dict[str, bytes] = {}
    described = []
    about = {"release": told.release_id, "definitions": told.digest, "levelhold": told.version}
    for relation, table in tables.items():
        name = resource_name(relation)
        units = {c.definition.column: c.definition.unit for c in columns[relation]}
        csv, parquet = csv_bytes(table), parquet_bytes(table, units, about)
        files[f"data/{name}.csv"], files[f"data/{name}.parquet"] = csv, parquet
        described.append(table_resource(relation, columns[relation], f"data/{name}.csv", csv))
        told_as = f"The same rows as {name}, as Parquet."
        described.append(
            file_resource(f"{name}-parquet", f"data/{name}.parquet", parquet, told_as)
            | {"format": "parquet", "mediatype": "application/vnd.apache.parquet"}
        )
    return files, described


def _codebook_resource(codebook: bytes) -> dict[str, Any]:
    return file_resource(
        "codebook", "codebook.csv", codebook, "One row is a column of a table of this package."
    ) | {"format": "csv", "mediatype": "text/csv"}


def _package(told: Told, described: list[dict[str, Any]], choice: ExportChoice) -> dict[str, Any]:
    return {
        "$schema": f"{PROFILE}/datapackage.json",
        "name": f"level-flight-{told.choice.level}-{told.release_id.lower()}",
        "id": told.release_id,
        "title": told.title,
        "description": told.abstract,
        "created": f"{told.created}T00:00:00Z",
        "version": "1.0.0",
        "contributors": [{"title": told.author, "roles": ["creator"]}],
        **({"licenses": [_licence(choice.licence)]} if choice.licence else {}),
        "resources": described,
    }


def _licence(given: str) -> dict[str, str]:
    return {"name": given} if given in LICENCES else {"name": "other", "title": given}


def _run(
    told: Told,
    tables: Mapping[str, pa.Table],
    files: Mapping[str, bytes],
    versions: Mapping[str, str],
) -> dict[str, Any]:
    """What was asked for, with which versions; dates that were asked for stay at the school."""
    asked = told.choice.as_dict() | {"first_date": None, "last_date": None}
    return {
        "release_id": told.release_id,
        "created": told.created,
        "choice": asked,
        "definitions": told.digest,
        "versions": dict(sorted(versions.items())),
        "rows": {resource_name(name): table.num_rows for name, table in tables.items()},
        "sha256": {path: hashlib.sha256(files[path]).hexdigest() for path in sorted(files)},
    }


def _missing_codes(
    con: duckdb.DuckDBPyConnection, tables: Mapping[str, pa.Table]
) -> dict[str, str]:
    """The codes that stand in the tables, with what they mean."""
    relations.build(con, ["missing_codes"])
    known = read_rows(
        con, "SELECT missing_code, missing_meaning FROM missing_codes ORDER BY code_no"
    )
    used = {
        value
        for table in tables.values()
        for name in table.column_names
        if name.endswith("_code") and name not in ID_CODES
        for value in table.column(name).unique().to_pylist()
    }
    return {str(code): str(meaning) for code, meaning in known if code in used}


def _json(content: Mapping[str, Any]) -> bytes:
    return (json.dumps(content, indent=2, ensure_ascii=False) + "\n").encode()
