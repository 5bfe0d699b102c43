"""The command for research: export."""

import sys
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
from pipeline.cli.told import tell
from pipeline.cli.told_share import disclosure_lines, export_lines, verify_lines
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.export import ExportChoice
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
        typer.Option(
            "--licence",
            metavar="SPDX",
            help="The licence of the data.",
        ),
    ] = None,
    contact: Annotated[
        str | None,
        typer.Option("--contact", metavar="TEXT", help="Whom to ask about the data."),
    ] = None,
    ethics: Annotated[
        str | None,
        typer.Option(
            "--ethics",
            metavar="TEXT",
            help="The consent or ethics basis, in words.",
        ),
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

    Licence, contact and ethics basis come from [export] in school.toml where they are not given here.

    Example: levelhold export --warehouse demo/warehouse --out demo/export
    """
    from pipeline.export import ExportChoice
    from pipeline.reading import school_settings

    place = existing_warehouse(warehouse)
    settings = school_settings(place)
    if verify is not None:
        if out is not None or is_check_only:
            raise UsageError("--verify makes nothing: leave out --out and --check-only")
        _verify(place, settings, verify, key, is_json)
        return
    if level == "cohort" and key is not None:
        raise UsageError(
            "--key: figures of groups hold no codes; for rows of single students say --level student or "
            "--level maneuver, else leave out --key"
        )
    own = settings.export
    choice = ExportChoice(
        level=level,
        first_date=as_date(first),
        last_date=as_date(last),
        cohort=cohort,
        standard_id=standard,
        linked_to=link,
        licence=licence or own.licence,
        contact=contact or own.contact,
        ethics=ethics or own.ethics,
    )
    _note_what_is_not_said(choice)
    if is_check_only:
        _check(place, settings, choice, key, is_json)
    elif out is None:
        raise UsageError("say where the export is to go: --out DIR (or --check-only)")
    else:
        _export(place, settings, choice, out, key, is_json)


def _note_what_is_not_said(choice: "ExportChoice") -> None:
    """Say on stderr which of the package's terms are not given, and where to give them."""
    given = {"licence": choice.licence, "contact": choice.contact, "ethics": choice.ethics}
    keys = [name for name, value in given.items() if not value]
    if keys:
        options = ", ".join(f"--{name}" for name in keys)
        print(
            f"note: the export names no {', no '.join(keys)}: set {', '.join(keys)} in [export] of "
            f"school.toml, or give {options}",
            file=sys.stderr,
        )


def _check(
    place: "Warehouse",
    settings: "Settings",
    choice: "ExportChoice",
    key: Path | None,
    is_json: bool,
) -> None:
    from pipeline.export import check_release

    report = check_release(place, settings, choice, key)
    tell(report, disclosure_lines(report), is_json)
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
    tell(report, export_lines(report), is_json)
    if report.disclosure.is_refused:
        raise typer.Exit(REFUSED)


def _verify(
    place: "Warehouse", settings: "Settings", folder: Path, key: Path | None, is_json: bool
) -> None:
    from pipeline.export import verify_release

    report = verify_release(folder, place, settings, key)
    tell(report, verify_lines(report), is_json)
    if not report.is_same:
        raise typer.Exit(REFUSED)
