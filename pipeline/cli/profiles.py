"""Commands about recorder profiles: profile try."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import StartedAt, as_moment
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipeline.land.profiles.trial import Trial

REFUSED = 3

app = typer.Typer(
    help="Try how a profile makes channels of a device's columns.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.callback()
def of_profiles() -> None:
    """Keep `try` a command of its own, though it is the only one."""


@app.command(name="try")
def try_(
    profile_file: Annotated[
        Path, typer.Argument(metavar="PROFILE", help="The profile: a TOML file.")
    ],
    log: Annotated[Path, typer.Argument(metavar="LOG", help="A log of that recorder.")],
    started_at: StartedAt = None,
    row_count: Annotated[
        int, typer.Option("--rows", min=1, max=1000, metavar="N", help="How many rows to show.")
    ] = 8,
) -> None:
    """Show what a profile makes of the first lines of a log; write nothing.

    Example: levelhold profile try demo/warehouse/profiles/lichen.toml my_log.csv
    """
    from pipeline.land.profiles import load_profile
    from pipeline.land.profiles.trial import try_profile
    from pipeline.settings import Landing

    if not profile_file.is_file():
        raise UsageError(f"{profile_file}: there is no such profile")
    start = None if started_at is None else as_moment(started_at)
    profile = load_profile(profile_file)
    trial = try_profile(profile, profile_file.stem, log, Landing(), start, row_count)
    print(*_lines(trial), sep="\n")
    if trial.reasons:
        print(*(reason.sentence for reason in trial.reasons), sep="\n", file=sys.stderr)
        raise typer.Exit(REFUSED)


def _lines(trial: "Trial") -> "Iterator[str]":
    from pipeline.cli.tables import as_table

    yield from trial.changes
    if trial.reasons:
        yield "the log would be refused"
        return
    yield ""
    yield as_table(trial.names, trial.rows).rsplit("\n", 2)[0]
    yield ""
    yield f"{trial.sample_count} samples; times count from {trial.started_at.isoformat()}"
    yield f"ignored: {', '.join(map(repr, trial.ignored)) or 'no column'}"
    for gate in trial.gates:
        where = "" if gate.channel is None else f"{gate.channel}: "
        yield f"{gate.severity} {gate.gate}: {where}{gate.detail}"
