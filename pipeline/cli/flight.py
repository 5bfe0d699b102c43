"""Commands about one flight: explain a maneuver, debrief a log."""

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pipeline.cli.options import StartedAt, WarehouseFolder, as_moment, existing_warehouse
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.explain import Debrief, DebriefAnswer
    from pipeline.settings import Settings
    from pipeline.store.warehouse import Warehouse

REFUSED = 3


def explain(
    maneuver: Annotated[str, typer.Argument(metavar="MANEUVER", help="A maneuver_id.")],
    warehouse: WarehouseFolder,
) -> None:
    """Show how a maneuver's figures came about, to the second.

    Example: levelhold explain s20260326-05.1.04 --warehouse demo/warehouse
    """
    from pipeline.explain import explain_maneuver
    from pipeline.reading import school_settings

    place = existing_warehouse(warehouse)
    print(*explain_maneuver(place, school_settings(place), maneuver), sep="\n")


def debrief(
    log: Annotated[Path, typer.Argument(metavar="LOG", help="One session's log.")],
    tasks: Annotated[
        Path | None, typer.Option("--tasks", metavar="FILE", help="What was asked for, and when.")
    ] = None,
    stage: Annotated[
        str, typer.Option("--stage", help="The student's stage, in the school's own word.")
    ] = "",
    control: Annotated[
        Literal["centring", "free"],
        typer.Option("--control", help="Whether the pitch control returns by itself."),
    ] = "centring",
    neutral: Annotated[
        float | None,
        typer.Option("--neutral", help="Where the pitch control rests, a fraction of travel."),
    ] = None,
    warehouse: Annotated[
        Path | None,
        typer.Option("--warehouse", metavar="DIR", help="Take settings and the neutral from here."),
    ] = None,
    device: Annotated[
        str | None,
        typer.Option("--device", help="The device flown: its neutral is looked up in --warehouse."),
    ] = None,
    profile: Annotated[
        Path | None,
        typer.Option(
            "--profile", metavar="FILE", help="A recorder profile, for a log with other columns."
        ),
    ] = None,
    started_at: StartedAt = None,
    on: Annotated[
        datetime | None,
        typer.Option("--on", formats=["%Y-%m-%d"], metavar="DATE", help="The day of the flight."),
    ] = None,
    page: Annotated[
        Path | None,
        typer.Option("--page", metavar="FILE", help="Also write a sheet to print (.html)."),
    ] = None,
) -> None:
    """Tell what one log shows, right after the lesson.

    Nothing is kept.

    Example: levelhold debrief demo/inbox/logs/s20260328-01.csv --neutral 0.0 --page sheet.html
    """
    from pipeline.explain import Debrief

    settings, known = _known(warehouse, device)
    asked = Debrief(
        log=log,
        now=datetime.now(UTC),
        tasks=tasks,
        neutral=known if neutral is None else neutral,
        control=control,
        profile=profile,
        stage=stage,
        started_at=None if started_at is None else as_moment(started_at),
        day=None if on is None else on.date(),
        settings=settings,
    )
    answer = _answer(asked, page)
    print(*answer.lines, sep="\n", end="\n" if answer.lines else "")
    if answer.refusals:
        print(*answer.refusals, sep="\n", file=sys.stderr)
        raise typer.Exit(REFUSED)


def _answer(asked: "Debrief", page: Path | None) -> "DebriefAnswer":
    if page is None:
        from pipeline.explain import debrief_log

        return debrief_log(asked)
    if page.suffix.lower() not in (".html", ".htm"):
        raise UsageError(f"--page {page}: a sheet is a page, end its name in .html")
    from pipeline.pages.debrief_sheet import write_debrief_sheet

    return write_debrief_sheet(asked, page)


def _known(folder: Path | None, device: str | None) -> "tuple[Settings, float | None]":
    """The school's settings, and the device's neutral where one is asked for."""
    from pipeline.explain import neutral_of
    from pipeline.reading import school_settings
    from pipeline.settings import Settings

    if folder is None:
        if device is not None:
            raise UsageError("--device looks a neutral up: give --warehouse too")
        return Settings(), None
    place: Warehouse = existing_warehouse(folder)
    settings = school_settings(place)
    return settings, None if device is None else neutral_of(place, settings, device)
