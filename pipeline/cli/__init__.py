"""The door: the `levelhold` command. Nothing below it prints or exits.

One file per group of commands; each is registered here. What a command needs (polars, DuckDB, the
charts) is imported inside it, so that help and version answer at once.
"""

import sys
from typing import Annotated

import typer

from pipeline import __version__
from pipeline.cli import (
    ask,
    corrections,
    demo,
    explained,
    flight,
    night,
    operations,
    profiles,
    share,
    upkeep,
)
from pipeline.errors import LevelholdError

app = typer.Typer(
    name="levelhold",
    help=(
        "Score how closely and how steadily each student held an assigned altitude, heading and "
        "airspeed, and say who needs more straight-and-level work, and why.\n\n"
        "It informs an instructor and replaces none."
    ),
    epilog=(
        "Exit codes: 0 done; 1 a fault of this program; 2 wrong usage; 3 done, but some input was "
        "refused; 4 settings not valid; 5 store damaged; 6 a relation failed; 75 another run holds "
        "the lock."
    ),
    context_settings={"help_option_names": ["-h", "--help"]},
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _print_version(is_wanted: bool) -> None:
    if is_wanted:
        print(f"levelhold {__version__}")
        raise typer.Exit


@app.callback()
def levelhold(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Print the version and leave."
        ),
    ] = False,
) -> None:
    """Hold what every command shares: the version option."""


for command in (
    demo.demo,
    operations.init,
    night.nightly,
    night.ingest,
    night.score,
    night.pages,
    ask.query,
    explained.definitions,
    flight.explain,
    flight.debrief,
    corrections.review,
    corrections.set_aside,
    corrections.withdraw,
    corrections.reassign,
    upkeep.check,
    share.export,
):
    app.command()(command)

app.add_typer(profiles.app, name="profile")


def main(arguments: list[str] | None = None) -> None:
    """Run one command and exit with its code; an error of ours is one line on standard error."""
    try:
        app(args=arguments)
    except LevelholdError as error:
        print(f"levelhold: {' '.join(str(error).split())}", file=sys.stderr)
        raise SystemExit(error.exit_code) from None
