"""One chart of the pages as a file: chart."""

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import AsOf, WarehouseFolder, as_date, existing_warehouse
from pipeline.errors import UsageError


def chart(
    name: Annotated[
        str,
        typer.Argument(
            metavar="NAME",
            help=(
                "cohort_trends, met_shares, session_points, settling_curves, group_curves, device_effects, "
                "device_neutrals; with --student also student_sessions, maneuver_strips."
            ),
        ),
    ],
    warehouse: WarehouseFolder,
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="Where to write: .svg, .png or .pdf.")
    ],
    student: Annotated[
        str | None, typer.Option("--student", metavar="ID", help="The student to pick out.")
    ] = None,
    choice: Annotated[
        list[str] | None,
        typer.Option(
            "--choice",
            metavar="KEY=VALUE",
            help="What the page's selects choose: aspect=heading, cohort=..., maneuver=...",
        ),
    ] = None,
    as_of: AsOf = None,
) -> None:
    """Draw one chart of the pages into a file.

    Example: levelhold chart cohort_trends --warehouse demo/warehouse --out cohorts.svg
    """
    from pipeline.pages.one_chart import draw_chart
    from pipeline.reading import school_settings

    place = existing_warehouse(warehouse)
    settings = school_settings(place)
    chosen = dict(map(_key_and_value, choice or ()))
    print(
        draw_chart(
            place, settings, name, out, student=student, choices=chosen, as_of=as_date(as_of)
        )
    )


def _key_and_value(given: str) -> tuple[str, str]:
    key, parted, value = given.partition("=")
    if not parted:
        raise UsageError(f"--choice {given}: write KEY=VALUE, for example aspect=heading")
    return key, value
