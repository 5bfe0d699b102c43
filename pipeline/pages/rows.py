"""Rows for charts as compact JSON that is safe inside a page."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

ROWS_MAXIMUM = 10_000
"""The most rows that one page carries for its charts; the relations named page_ thin to stay below."""

# A reader of HTML looks for these inside a script element, whatever the JSON says.
_ESCAPES = {
    "<": "\\u003c",
    ">": "\\u003e",
    "&": "\\u0026",
    "\u2028": "\\u2028",
    "\u2029": "\\u2029",
}


def as_columns(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> dict[str, Any]:
    """The named columns of some rows, each name written once."""
    return {"columns": list(columns), "rows": [[row[c] for c in columns] for row in rows]}


def count_rows(datasets: Mapping[str, Any]) -> int:
    """How many rows some datasets hold in all."""
    return sum(len(dataset.get("rows", ())) for dataset in datasets.values())


def safe_json(content: object) -> str:
    """JSON that can stand in a script element: no text in it can end the element or start another."""
    text = json.dumps(
        content, allow_nan=False, ensure_ascii=False, separators=(",", ":"), default=_plain
    )
    for character, escape in _ESCAPES.items():
        text = text.replace(character, escape)
    return text


def _plain(value: object) -> object:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(f"{type(value).__name__} has no place in a page's data")
