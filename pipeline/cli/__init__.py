"""The door: the `levelhold` command. Nothing below it prints or exits.

One file per group of commands; each is registered here. What a command needs (polars, DuckDB, the
charts) is imported inside it, so that help and version answer at once.
"""

import errno
import sys
from typing import Annotated

import typer

from pipeline import __version__
from pipeline.cli import (
    ask,
    corrections,
    demo,
    drawing,
    explained,
    flight,
    night,
    operations,
    parts,
    privacy,
    profiles,
    share,
    upkeep,
)
from pipeline.cli.anywhere import anywhere
from pipeline.errors import CannotWrite, LevelholdError

CANNOT_WRITE = {
    errno.ENOSPC: ("no room is left on the disk", "make room"),
    errno.EDQUOT: ("no room is left in the quota", "make room"),
    errno.EFBIG: ("the file would be larger than this user may write", "raise the limit"),
    errno.EROFS: ("the file system is read-only", "make it writable"),
    errno.EACCES: ("this user has no permission", "give it"),
    errno.EPERM: ("this user has no permission", "give it"),
}
"""What the system may refuse, by its error number: in words, and what to do."""

app = typer.Typer(
    name="levelhold",
    help=(
        "Score how closely and how steadily each student held an assigned altitude, heading and "
        "airspeed, and say who needs more straight-and-level work, and why.\n\n"
        "It informs an instructor and replaces none."
    ),
    epilog=(
        "Exit codes: 0 done; 1 a fault of this program; 2 wrong usage; 3 done, but some input was "
        "refused; 4 settings not valid; 5 store damaged; 6 a relation failed; 7 store of a newer "
        "version; 69 a cluster cannot do the work; 74 the disk is full or a folder may not be written "
        "to; 75 another run holds the lock."
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
    operations.status,
    operations.schedule,
    night.nightly,
    parts.ingest,
    parts.score,
    parts.pages,
    ask.query,
    explained.definitions,
    flight.explain,
    flight.debrief,
    drawing.chart,
    corrections.review,
    corrections.set_aside,
    corrections.withdraw,
    corrections.reassign,
    privacy.forget,
    upkeep.check,
    upkeep.compact,
    upkeep.backup,
    upkeep.restore,
    share.export,
):
    app.command()(anywhere(command))

app.add_typer(profiles.app, name="profile")


def main(arguments: list[str] | None = None) -> None:
    """Run one command and exit with its code; an error of ours is one line on standard error."""
    try:
        app(args=arguments)
    except LevelholdError as error:
        print(f"levelhold: {' '.join(str(error).split())}", file=sys.stderr)
        raise SystemExit(error.exit_code) from None
    except OSError as error:
        if error.errno not in CANNOT_WRITE:
            raise
        print(f"levelhold: {_refused_by_system(error)}", file=sys.stderr)
        raise SystemExit(CannotWrite.exit_code) from None


def exit_code_of(error: Exception) -> int:
    """The exit code that an error leaves behind."""
    if isinstance(error, LevelholdError):
        return error.exit_code
    is_told = isinstance(error, OSError) and error.errno in CANNOT_WRITE
    return CannotWrite.exit_code if is_told else LevelholdError.exit_code


def _refused_by_system(error: OSError) -> str:
    """Where the system refused, why, and what to do."""
    why, mend = CANNOT_WRITE[error.errno or 0]
    where = "" if error.filename is None else f"{error.filename}: "
    return f"{where}{why}; what was there is whole and kept: {mend}, then run again"
