"""The command for research: export."""

import dataclasses
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pipeline.cli.options import (
    IsJson,
    WarehouseFolder,
    as_date,
    existing_warehouse,
)
from pipeline.cli.tables import plain
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.export import DisclosureReport, ExportChoice, ExportReport, VerifyReport
    from pipeline.settings import Settings
    from pipeline.store import Warehouse

REFUSED = 3
"""Exit code of a release that was refused, or that is not what the store gives."""


def export(
    warehouse: WarehouseFolder,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="A new folder for the export.")
    ] = None,
    level: Annotated[
        Literal["cohort", "student", "maneuver"],
        typer.Option("--level", help="Figures of groups only, or rows of single students."),
    ] = "cohort",
    first: Annotated[
        datetime | None,
        typer.Option(
            "--from", formats=["%Y-%m-%d"], metavar="DATE", help="Sessions from this day on."
        ),
    ] = None,
    last: Annotated[
        datetime | None,
        typer.Option("--to", formats=["%Y-%m-%d"], metavar="DATE", help="Sessions up to this day."),
    ] = None,
    cohort: Annotated[
        str | None, typer.Option("--cohort", metavar="NAME", help="Students of this cohort only.")
    ] = None,
    standard: Annotated[
        str | None,
        typer.Option("--standard", metavar="ID", help="Students held to this standard only."),
    ] = None,
    key: Annotated[
        Path | None,
        typer.Option(
            "--key",
            metavar="FILE",
            help="Where the random codes of students are kept: outside warehouse and export.",
        ),
    ] = None,
    link: Annotated[
        str | None,
        typer.Option(
            "--link", metavar="RELEASE", help="Use the codes of this earlier release again."
        ),
    ] = None,
    licence: Annotated[
        str | None,
        typer.Option("--licence", metavar="SPDX", help="The licence that the data is under."),
    ] = None,
    contact: Annotated[
        str | None, typer.Option("--contact", metavar="TEXT", help="Whom to ask about the data.")
    ] = None,
    ethics: Annotated[
        str | None,
        typer.Option("--ethics", metavar="TEXT", help="The consent or ethics basis, in words."),
    ] = None,
    is_check_only: Annotated[
        bool,
        typer.Option("--check-only", help="Say what would be withheld and why; write nothing."),
    ] = False,
    verify: Annotated[
        Path | None,
        typer.Option(
            "--verify", metavar="DIR", help="Make the export in DIR again and compare every byte."
        ),
    ] = None,
    is_json: IsJson = False,
) -> None:
    """Write a de-identified package for research, or check one.

    Example: levelhold export --warehouse demo/warehouse --out demo/export
    """
    from pipeline.export import ExportChoice
    from pipeline.reading import school_settings

    place = existing_warehouse(warehouse)
    settings = school_settings(place)
    if verify is not None:
        _verify(place, settings, verify, key, is_json)
        return
    choice = ExportChoice(
        level=level,
        first_date=as_date(first),
        last_date=as_date(last),
        cohort=cohort,
        standard_id=standard,
        linked_to=link,
        licence=licence,
        contact=contact,
        ethics=ethics,
    )
    if is_check_only:
        _check(place, settings, choice, key, is_json)
    elif out is None:
        raise UsageError("say where the export is to go: --out DIR (or --check-only)")
    else:
        _export(place, settings, choice, out, key, is_json)


def _check(
    place: "Warehouse",
    settings: "Settings",
    choice: "ExportChoice",
    key: Path | None,
    is_json: bool,
) -> None:
    from pipeline.export import check_release

    report = check_release(place, settings, choice, key)
    _tell(report, _disclosure_lines(report), is_json)
    if report.is_refused:
        raise typer.Exit(REFUSED)


def _export(
    place: "Warehouse",
    settings: "Settings",
    choice: "ExportChoice",
    out: Path,
    key: Path | None,
    is_json: bool,
) -> None:
    from pipeline.export import export_release

    report = export_release(place, settings, choice, out, key, datetime.now(UTC))
    _tell(report, _export_lines(report), is_json)
    if report.disclosure.is_refused:
        raise typer.Exit(REFUSED)


def _verify(
    place: "Warehouse", settings: "Settings", folder: Path, key: Path | None, is_json: bool
) -> None:
    from pipeline.export import verify_release

    report = verify_release(folder, place, settings, key)
    _tell(report, _verify_lines(report), is_json)
    if not report.is_same:
        raise typer.Exit(REFUSED)


def _tell(
    report: "DisclosureReport | ExportReport | VerifyReport", lines: Iterator[str], is_json: bool
) -> None:
    if is_json:
        print(json.dumps(plain(dataclasses.asdict(report)), ensure_ascii=False, indent=1))
    else:
        print(*lines, sep="\n")


def _export_lines(report: "ExportReport") -> Iterator[str]:
    if report.folder is None:
        yield "refused: nothing was written"
    else:
        yield f"release {report.release_id}: {report.folder}"
        for table, rows in report.rows.items():
            yield f"    {table.removeprefix('released_')}: {rows} rows"
    yield from _disclosure_lines(report.disclosure)


def _disclosure_lines(report: "DisclosureReport") -> Iterator[str]:
    if report.level == "cohort":
        yield (
            f"cells shown: {report.shown_cells}; withheld, empty ones among them: "
            f"{report.withheld_cells} (fewer than {report.minimum_students} students, or would give "
            "such a cell away)"
        )
    yield from (f"students left out, {why}: {n}" for why, n in report.left_out.items())
    yield from (f"students with the {what}: {n}" for what, n in report.masked.items())
    yield f"earlier releases compared with: {report.compared_releases}"
    yield from (f"refused: {sentence}" for sentence in report.refusals)


def _verify_lines(report: "VerifyReport") -> Iterator[str]:
    yield f"release {report.release_id}: {len(report.same)} files are the same"
    for what, files in (
        ("differs", report.different),
        ("missing", report.missing),
        ("does not belong", report.unknown),
    ):
        yield from (f"{what}: {file}" for file in files)
