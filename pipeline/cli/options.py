"""The arguments that several commands share, each with its help, and what is checked of them."""

import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.store.warehouse import Warehouse

WarehouseFolder = Annotated[
    Path,
    typer.Option(
        "--warehouse", metavar="DIR", help="The folder that holds the store, or s3://BUCKET/PREFIX."
    ),
]
LocalWarehouse = Annotated[
    Path, typer.Option("--warehouse", metavar="DIR", help="The folder that holds the store.")
]
InboxFolder = Annotated[
    Path, typer.Option("--inbox", metavar="DIR", help="The folder that the school drops logs in.")
]
AsOf = Annotated[
    datetime | None,
    typer.Option(
        "--as-of",
        formats=["%Y-%m-%d"],
        metavar="DATE",
        help="Tell lists and flags for this date (default: the latest session's).",
    ),
]
Since = Annotated[
    datetime | None,
    typer.Option(
        "--since",
        formats=["%Y-%m-%d"],
        metavar="DATE",
        help="Leave sessions that began before this UTC date to another run.",
    ),
]
StartedAt = Annotated[
    str | None,
    typer.Option(
        "--started-at",
        metavar="TIME",
        help="The session's start, ISO 8601 with offset (default: the log's first time).",
    ),
]
Workers = Annotated[
    int | None,
    typer.Option("--workers", min=1, metavar="N", help="Processes to use (default: one a core)."),
]
IsJson = Annotated[bool, typer.Option("--json", help="Print the report as JSON.")]
IsQuiet = Annotated[
    bool, typer.Option("--quiet", "-q", help="Say nothing unless something was refused.")
]
Format = Literal["table", "csv", "json", "parquet"]


def existing_warehouse(folder: Path) -> "Warehouse":
    """The warehouse in a folder that is there. Raises UsageError where it is not."""
    from pipeline.store.warehouse import Warehouse

    if not folder.is_dir():
        raise UsageError(
            f"{folder}: there is no such warehouse folder; name the one that levelhold init or a night made"
        )
    return Warehouse(folder)


def as_date(given: datetime | None) -> date | None:
    """The date of --as-of or --since."""
    return None if given is None else given.date()


def as_moment(text: str) -> datetime:
    """The moment of --started-at, in UTC. Raises UsageError where it is none, or lacks an offset."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise UsageError(
            f"--started-at {text!r} is no time with an offset, such as 2026-03-14T09:30:00+00:00"
        )
    return moment.astimezone(UTC)


def worker_count(given: int | None) -> int:
    """How many processes to use: as many as asked for, else one for each core of this process."""
    return given or len(os.sched_getaffinity(0))
