"""The description of an export for machines: its columns, keys and rules (Data Package 2.0) and the
codebook.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import pyarrow as pa

from pipeline.codebook import ColumnDefinition, column_definitions
from pipeline.export.data_files import WITHHELD
from pipeline.export.missing import what_empty_means
from pipeline.relations import relation_files
from pipeline.schema.tables import AIRS, DEVICE_CLASSES, FLOWN_BY, MANEUVER_KINDS

PROFILE: Final = "https://datapackage.org/profiles/2.0"

_WORDS: Final[dict[str, tuple[str, ...]]] = {
    "cell_level": ("stratum", "cohort", "week"),
    "aspect": ("altitude", "heading", "trim"),
    "figure": ("settled", "set"),
    "device_class": DEVICE_CLASSES,
    "kind": MANEUVER_KINDS,
    "basis": ("assigned", "inferred"),
    "flown_by": FLOWN_BY,
    "air": AIRS,
    "counted": ("students", "sessions", "maneuvers", "events"),
}
ID_CODES: Final = ("student_code", "session_code", "maneuver_code", "device_code")
"""Columns of random codes: all others that end in _code say why something is missing."""
_RANGES: Final[dict[str, tuple[float | None, float | None]]] = {
    "fraction": (0, 1),
    "ratio": (0, None),
    "count": (0, None),
    "students": (0, None),
    "weeks": (1, None),
}
_LINKS: Final[dict[str, dict[str, str]]] = {
    "student_weeks": {"student_code": "students"},
    "student_weeks_wide": {"student_code": "students"},
    "maneuvers": {"student_code": "students"},
    "measures": {"maneuver_code": "maneuvers"},
    "events": {"maneuver_code": "maneuvers"},
}
MISSING: Final = (
    {"value": "", "label": "not known or not applicable; codebook.csv says which for each column"},
    {
        "value": WITHHELD,
        "label": "withheld: fewer students than the minimum, or none, or would give such a cell away",
    },
)


@dataclass(frozen=True)
class Column:
    """One column of an exported table: what the field dictionary says of it, its type and its
    rules.
    """

    definition: ColumnDefinition
    type: str
    constraints: dict[str, Any]


def resource_name(relation: str) -> str:
    """The name that a relation's table has in the package."""
    return relation.removeprefix("released_")


def row_sentence(relation: str) -> str:
    """What one row of a relation's table is, in the names that the package has."""
    sentence = relation_files()[relation].sentence.removesuffix(" A TABLE: read twice.")
    return re.sub(r"\breleased_(\w+)", r"`\1`", sentence)


def columns_of(relation: str, schema: pa.Schema) -> tuple[Column, ...]:
    """The columns of an exported table, in order."""
    known = {c.column: c for c in column_definitions() if c.relation == relation}
    grain = relation_files()[relation].grain
    return tuple(
        Column(known[field.name], _type(field.type), _constraints(known[field.name], grain))
        for field in schema
    )


def _type(kind: pa.DataType) -> str:
    if pa.types.is_boolean(kind):
        return "boolean"
    if pa.types.is_integer(kind):
        return "integer"
    return "number" if pa.types.is_floating(kind) else "string"


def _constraints(column: ColumnDefinition, grain: tuple[str, ...]) -> dict[str, Any]:
    rules: dict[str, Any] = {}
    if column.column in grain or column.column.endswith("_withheld"):
        rules["required"] = True
    if grain == (column.column,):
        rules["unique"] = True
    if column.column in _WORDS:
        rules["enum"] = list(_WORDS[column.column])
    low, high = _RANGES.get(column.unit, (None, None))
    return rules | {
        name: value for name, value in (("minimum", low), ("maximum", high)) if value is not None
    }


def table_resource(
    relation: str, columns: tuple[Column, ...], path: str, content: bytes
) -> dict[str, Any]:
    """A CSV file as a tabular resource with its schema."""
    name = resource_name(relation)
    links = [
        {"fields": [field], "reference": {"resource": target, "fields": [field]}}
        for field, target in _LINKS.get(name, {}).items()
    ]
    schema: dict[str, Any] = {
        "$schema": f"{PROFILE}/tableschema.json",
        "fields": [_field(column) for column in columns],
        "primaryKey": list(relation_files()[relation].grain),
        "missingValues": [dict(m) for m in MISSING],
    }
    return {
        **file_resource(name, path, content, row_sentence(relation)),
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "schema": schema | ({"foreignKeys": links} if links else {}),
    }


def file_resource(name: str, path: str, content: bytes, description: str) -> dict[str, Any]:
    """Any file as a resource: where it lies, what it is, its digest."""
    return {
        "$schema": f"{PROFILE}/dataresource.json",
        "name": name,
        "path": path,
        "description": description,
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
    }


def _field(column: Column) -> dict[str, Any]:
    told = {
        "description": column.definition.meaning,
        "unit": column.definition.unit,
        "formula": column.definition.formula,
    }
    return {
        "name": column.definition.column,
        "type": column.type,
        **{name: value for name, value in told.items() if value},
        "constraints": column.constraints,
    }


def codebook_table(tables: Mapping[str, tuple[Column, ...]]) -> pa.Table:
    """The codebook: a row for each column of each table of the export."""
    return pa.Table.from_pylist(
        [
            {
                "table": resource_name(relation),
                "column": column.definition.column,
                "type": column.type,
                "unit": column.definition.unit,
                "meaning": column.definition.meaning,
                "formula": column.definition.formula,
                "lowest_allowed": _text(column.constraints.get("minimum")),
                "highest_allowed": _text(column.constraints.get("maximum")),
                "allowed_words": ", ".join(column.constraints.get("enum", [])),
                "is_key": str(column.definition.column in relation_files()[relation].grain).lower(),
                "missing": what_empty_means(
                    column.definition.column,
                    [c.definition.column for c in columns],
                    is_required=bool(column.constraints.get("required")),
                ),
                "source": column.definition.source,
            }
            for relation, columns in tables.items()
            for column in columns
        ]
    )


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
