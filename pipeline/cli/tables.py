"""Rows of a query as text: for a reader, as CSV, as JSON."""

import csv
import dataclasses
import io
import json
import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime

Row = Sequence[object]

_FORMULA_LEADS = frozenset("=+-@")

WIDEST_LINE = 160
"""Characters that a line of a table may take before its rows are written as blocks."""


def plain(value: object) -> object:
    """A value as JSON can hold it: times in ISO 8601, what is no number as null, reports as objects."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return plain(dataclasses.asdict(value))
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [plain(inner) for inner in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return str(value)


def as_json(names: Sequence[str], rows: Iterable[Row]) -> str:
    """One array with an object for each row; unknown is null."""
    objects = [dict(zip(names, map(plain, row), strict=True)) for row in rows]
    return json.dumps(objects, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def as_csv(names: Sequence[str], rows: Iterable[Row]) -> str:
    """CSV with a heading; unknown is an empty cell, lists and structs are JSON.

    A text that a spreadsheet would run as a formula is led by an apostrophe.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(map(_harmless, names))
    writer.writerows([_csv_cell(value) for value in row] for row in rows)
    return text.getvalue()


def _csv_cell(value: object) -> str:
    cell = _cell(value, unknown="")
    return _harmless(cell) if isinstance(value, str) else cell


def _harmless(text: str) -> str:
    return f"'{text}" if text[:1] in _FORMULA_LEADS else text


def as_table(names: Sequence[str], rows: Sequence[Row]) -> str:
    """Columns set side by side, numbers to the right; unknown is a dash; the row count below.

    Where a line would be wider than WIDEST_LINE, each row is a block with one line a column.
    """
    cells = [[_cell(value, unknown="-") for value in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(names, *cells, strict=True)]
    is_wide = sum(widths) + 2 * len(widths) > WIDEST_LINE
    lines = _blocks(names, cells) if is_wide else _columns(names, rows, cells, widths)
    count = "1 row" if len(rows) == 1 else f"{len(rows)} rows"
    return "\n".join([*lines, f"({count})"]) + "\n"


def _columns(
    names: Sequence[str], rows: Sequence[Row], cells: list[list[str]], widths: list[int]
) -> list[str]:
    is_number = [_all_numbers(column) for column in zip(*rows, strict=True)] or [False] * len(names)
    return [
        "  ".join(
            text.rjust(width) if right else text.ljust(width)
            for text, width, right in zip(line, widths, is_number, strict=True)
        ).rstrip()
        for line in (names, ["-" * width for width in widths], *cells)
    ]


def _blocks(names: Sequence[str], cells: list[list[str]]) -> list[str]:
    width = max(map(len, names))
    return [
        line
        for row in cells
        for line in (*(f"{n:<{width}}  {c}" for n, c in zip(names, row, strict=True)), "")
    ]


def _all_numbers(column: Iterable[object]) -> bool:
    known = [value for value in column if value is not None]
    return bool(known) and all(
        isinstance(value, int | float) and not isinstance(value, bool) for value in known
    )


def _cell(value: object, unknown: str) -> str:
    held = plain(value)
    if held is None:
        return unknown
    if isinstance(held, list | dict):
        return json.dumps(held, ensure_ascii=False)
    if isinstance(held, bool):
        return "true" if held else "false"
    return " ".join(str(held).split())
