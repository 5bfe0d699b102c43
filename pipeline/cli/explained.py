"""The command that explains every figure: definitions."""

import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.codebook import ColumnDefinition

LINE_WIDTH = 100


def definitions(
    relation: Annotated[
        str | None,
        typer.Argument(metavar="RELATION", help="One relation, or gates: the data checks."),
    ] = None,
    shape: Annotated[
        Literal["text", "csv", "json"], typer.Option("--format", help="How to print them.")
    ] = "text",
) -> None:
    """Explain every column: meaning, unit, formula, source.

    Example: levelhold definitions altitude_hold
    """
    from pipeline.cli import tables
    from pipeline.codebook import column_definitions

    if relation == "gates":
        _print_gates(shape)
        return
    chosen = [c for c in column_definitions() if relation in (None, c.relation)]
    if relation is not None and not chosen:
        raise UsageError(f"there is no relation {relation}{_nearest(relation)}")
    if shape == "text":
        print(*_text(chosen), sep="\n")
        return
    rows = [asdict(column) for column in chosen]
    write = tables.as_csv if shape == "csv" else tables.as_json
    print(write(list(rows[0]), [list(row.values()) for row in rows]), end="")


def _print_gates(shape: str) -> None:
    """Every data check: its name, what it found when it speaks, how grave that is, what to do."""
    from pipeline.cli import tables
    from pipeline.schema.gates import GATES, SEVERITY_MEANINGS

    if shape != "text":
        rows = [asdict(meaning) for meaning in GATES]
        write = tables.as_csv if shape == "csv" else tables.as_json
        print(write(list(rows[0]), [list(row.values()) for row in rows]), end="")
        return
    print("The data checks made at landing, as they stand in session_gates.", end="\n\n")
    for severity, meaning in SEVERITY_MEANINGS.items():
        print(f"  {severity}: {meaning}")
    for gate in GATES:
        print(f"\n{gate.gate} ({', '.join(gate.severities)}; counts {gate.affected})")
        print(*_wrapped(gate.meaning, "    "), *_wrapped(f"To do: {gate.advice}", "    "), sep="\n")


def _nearest(name: str) -> str:
    from pipeline.relations import relation_files
    from pipeline.settings import nearest

    return nearest(name, relation_files())


def _text(columns: "list[ColumnDefinition]") -> Iterator[str]:
    """Each relation with what a row is, then its columns, one paragraph each."""
    from pipeline.relations import relation_files

    shown = ""
    for column in columns:
        if column.relation != shown:
            shown = column.relation
            header = relation_files()[shown]
            yield f"{shown} (sql/{header.floor_name}/{shown}.sql)"
            yield from _wrapped(header.sentence, "  ")
            yield from _wrapped(f"Grain: {', '.join(header.grain) or 'one row'}", "  ")
            yield from _wrapped(f"Source: {header.source}", "  ")
            yield ""
        unit = f" [{column.unit}]" if column.unit else ""
        yield f"  {shown}.{column.column}{unit} {column.type.lower()}"
        yield from _wrapped(column.meaning, "      ")
        if column.formula:
            yield from _wrapped(f"= {column.formula}", "      ")
    yield ""


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        text, LINE_WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
