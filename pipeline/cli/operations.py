"""The operator's commands: init, status, schedule."""

import os
import pwd
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import (
    InboxFolder,
    IsJson,
    LocalWarehouse,
    WarehouseFolder,
    existing_warehouse,
)
from pipeline.cli.told import count, tell
from pipeline.cli.told_inbox import refused_lines, waiting_lines
from pipeline.cli.told_night import nobody_line
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.operate.preview import Preview
    from pipeline.operate.status import LastNight, Status, StoreSize

PUT_IN_PLACE = (
    "put the three files into /etc/systemd/system (schedule --out DIR writes them), then as root:",
    "systemctl daemon-reload && systemctl enable --now levelhold.timer",
    "systemctl start levelhold.service   # one night now, to see that it works",
    "journalctl -u levelhold.service     # what it said",
)
"""What an administrator does with the units."""


def init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new folder for the school.")],
) -> None:
    """Make a new school's folders: an inbox and a warehouse.

    It asks nothing, and touches nothing that is there.

    Example: levelhold init our-school
    """
    from pipeline.cli.demo import sample_root
    from pipeline.operate.new_school import begin_school

    school = begin_school(folder, (sample_root() / "profiles" / "README.md").read_bytes())
    for path in school.written:
        print(f"wrote {path}")
    if not school.written:
        print(f"{folder}: all of it is there already, nothing was changed")
    print(f"Put students, sessions and logs into {school.inbox}.")
    print(f"Logs whose columns go by other names or units: {school.warehouse}/profiles/README.md")
    print("Then run:")
    print(f"levelhold nightly --inbox {school.inbox} --warehouse {school.warehouse}")


def status(
    warehouse: WarehouseFolder,
    inbox: Annotated[
        Path | None,
        typer.Option("--inbox", metavar="DIR", help="Say too what the next night would take."),
    ] = None,
    is_json: IsJson = False,
) -> None:
    """Say how the store stands and what to do next.

    What was refused or waits, and why; the flags; the store's size.

    Example: levelhold status --inbox demo/inbox --warehouse demo/warehouse
    """
    from pipeline.operate.next_actions import next_actions
    from pipeline.operate.preview import preview_night
    from pipeline.operate.status import look_at
    from pipeline.reading import school_settings

    place, now = existing_warehouse(warehouse), datetime.now(UTC)
    settings, preview = school_settings(place), None
    if inbox is not None:
        with tempfile.TemporaryDirectory(prefix="levelhold-") as scratch:
            preview = preview_night(inbox, place, settings, now, Path(scratch))
    found = look_at(place, settings, preview)
    actions = next_actions(found, now)
    report = {"status": found, "next_actions": actions}
    tell(
        report,
        [*_status_lines(found, now.date()), "next:", *(f"    {a}" for a in actions)],
        is_json,
    )


def schedule(
    inbox: InboxFolder,
    warehouse: LocalWarehouse,
    is_systemd: Annotated[
        bool, typer.Option("--systemd", help="Print units: a service, its timer, a failure hook.")
    ] = False,
    is_cron: Annotated[bool, typer.Option("--cron", help="Print a line for a crontab.")] = False,
    at: Annotated[
        str, typer.Option("--at", metavar="HH:MM", help="When, in the machine's local time.")
    ] = "02:30",
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Write the units as files into this folder."),
    ] = None,
) -> None:
    """Print what runs the night by itself, by systemd or cron.

    Example: levelhold schedule --systemd --inbox demo/inbox --warehouse demo/warehouse
    """
    from pipeline.operate.schedule import Nightly, cron_line, systemd_units

    if is_systemd == is_cron:
        raise UsageError("name one of --systemd and --cron")
    command = Path(sys.executable).with_name("levelhold")
    if not command.is_file():
        print(f"levelhold: {command}: not there yet; install it first", file=sys.stderr)
    night = Nightly(command, inbox.resolve(), warehouse.resolve(), at, _own_name())
    if is_cron:
        print("# Add this line with `crontab -e`; cron mails what the night has to say.")
        print(cron_line(night), end="")
        return
    units = systemd_units(night)
    if out is None:
        print(*(f"# {name}\n{text}" for name, text in units.items()), sep="\n")
        print(*(f"# {line}" for line in PUT_IN_PLACE), sep="\n")
        return
    out.mkdir(parents=True, exist_ok=True)
    for name, text in units.items():
        (out / name).write_text(text, encoding="utf-8")
        print(f"wrote {out / name}")
    print(*PUT_IN_PLACE, sep="\n")


def _own_name() -> str:
    """The user who runs this command, by name or, where there is none, by number."""
    try:
        return pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        return str(os.getuid())


def _status_lines(found: "Status", today: date) -> Iterator[str]:
    from pipeline.operate.moved_words import moved_lines
    from pipeline.operate.run_reports import shown

    yield _last_night_line(found.last_night)
    if (failure := found.failure) is not None:
        yield f"failed: the night of {shown(failure.started_at)}, exit code {failure.exit_code}"
        yield f"    {failure.sentence}"
    yield from moved_lines(found.moved)
    yield from refused_lines((refusal.file, refusal.sentences) for refusal in found.refused)
    yield from waiting_lines([sentence for _, sentence in found.waits])
    for note in found.lapsed:
        yield f"set aside no longer: {note.maneuver_id}: {note.reason}"
    if found.preview is not None:
        yield _preview_line(found.preview)
    yield _size_line(found.size)
    if found.size.newest_date is not None:
        yield f"newest session: {found.size.newest_date}, {_age_words(found.size.newest_date, today)}"
    yield from _flag_lines(found)


def _flag_lines(found: "Status") -> Iterator[str]:
    """The flags that stand; with files not measured, none standing would mean nothing."""
    if found.to_measure:
        files = count(found.to_measure, "samples file")
        yield f"flags: not fully known, {files} not measured under the definitions of today"
    elif not found.flags:
        yield nobody_line(found.size.sessions, found.undecided)
    if found.flags:
        yield f"{count(len(found.flags), 'flag')} standing"
    for flag in found.flags:
        yield f"    {flag.student_id} {flag.aspect} (raised {flag.since_date}): {flag.reason}"


def _last_night_line(night: "LastNight | None") -> str:
    if night is None:
        return "last night: no run has left a report yet"
    took = "" if night.took_s is None else f" in {night.took_s:.1f} s"
    return (
        f"last night: {night.started_at:%Y-%m-%d %H:%M} UTC, exit code {night.exit_code}, "
        f"landed {count(night.landed, 'session')}{took}"
    )


def _preview_line(preview: "Preview") -> str:
    landing = preview.landing
    return (
        f"next night: would land {count(len(landing.landed), 'session')}, "
        f"refuse {count(len(landing.new_refusals), 'new input')}, leave {len(landing.waiting)} waiting, "
        f"measure {count(preview.to_measure, 'samples file')}"
    )


def _age_words(newest: date, today: date) -> str:
    """How long ago the newest session was: that none come in is seen nowhere else."""
    days = (today - newest).days
    if days < 0:
        return "later than today"
    return "today" if days == 0 else f"{count(days, 'day')} before today"


def _size_line(size: "StoreSize") -> str:
    parts = ", ".join(f"{name} {n / 1e6:.1f}" for name, n in size.bytes_by_part.items())
    return (
        f"store: {count(size.sessions, 'session')}, batches {size.batches}, "
        f"{size.total_bytes / 1e6:.1f} MB ({parts}); {size.free_bytes / 1e9:.1f} GB free"
    )
