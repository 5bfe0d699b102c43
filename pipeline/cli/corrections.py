"""Commands by which an instructor adds to the store: review, set-aside, withdraw, reassign."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import IsJson, WarehouseFolder, as_date, existing_warehouse
from pipeline.cli.told import tell
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.trend import Review

Note = Annotated[str, typer.Option("--note", help="What was seen or decided, in a few words.")]
Aspect = Annotated[
    str | None,
    typer.Option("--aspect", metavar="A", help="altitude, heading or trim (default: all three)."),
]
SessionCode = Annotated[str, typer.Argument(metavar="SESSION", help="The session's code.")]
IsUndo = Annotated[bool, typer.Option("--undo", help="Take it back: it holds no longer.")]
Until = Annotated[
    datetime | None,
    typer.Option("--until", formats=["%Y-%m-%d"], metavar="DATE", help="How long it holds."),
]


def review(
    student: Annotated[str, typer.Argument(metavar="STUDENT", help="The student's code.")],
    warehouse: WarehouseFolder,
    note: Note,
    aspect: Aspect = None,
    until: Until = None,
    is_json: IsJson = False,
) -> None:
    """Note that a flag was seen.

    It stays on the list, with the note beside it.

    Example: levelhold review TH04 --aspect trim --note "flying with me on Friday" --warehouse demo/warehouse
    """
    from pipeline.reading import school_settings
    from pipeline.trend import acknowledge

    place, now = existing_warehouse(warehouse), datetime.now(UTC)
    stored = acknowledge(place, school_settings(place), student, aspect, note, now, as_date(until))
    _confirm(
        stored,
        f"noted for {student}, {aspect or 'all aspects'}; the flag stays on the list",
        is_json,
    )


def set_aside(
    target: Annotated[
        str, typer.Argument(metavar="MANEUVER", help="A maneuver's code, or a session's.")
    ],
    warehouse: WarehouseFolder,
    note: Note,
    aspect: Aspect = None,
    is_undo: IsUndo = False,
    is_json: IsJson = False,
) -> None:
    """Keep a maneuver, or a whole session, out of scores.

    It stays measured and shown.

    Example: levelhold set-aside s20260324-03.1.02 --note "avoiding traffic" --warehouse demo/warehouse
    """
    from pipeline import trend
    from pipeline.reading import school_settings

    if is_undo:
        _undo(warehouse, "set-aside", target, note, is_json)
        return
    place = existing_warehouse(warehouse)
    stored = trend.set_aside(place, school_settings(place), target, note, datetime.now(UTC), aspect)
    _confirm(stored, f"set aside {target}, {aspect or 'all aspects'}; it stays measured", is_json)


def withdraw(
    session: SessionCode,
    warehouse: WarehouseFolder,
    note: Note,
    is_undo: IsUndo = False,
    is_json: IsJson = False,
) -> None:
    """Let a session count no more.

    It stays in the store, with the note.

    Example: levelhold withdraw s20260324-03 --note "log of another aeroplane" --warehouse demo/warehouse
    """
    from pipeline import trend
    from pipeline.reading import school_settings

    if is_undo:
        _undo(warehouse, "withdraw", session, note, is_json)
        return
    place = existing_warehouse(warehouse)
    stored = trend.withdraw(place, school_settings(place), session, note, datetime.now(UTC))
    _confirm(
        stored,
        f"withdrawn {session}; it stays in the store and counts no more; the next night, or levelhold score, "
        "measures anew what rested on it",
        is_json,
    )


def reassign(
    session: SessionCode,
    warehouse: WarehouseFolder,
    note: Note,
    student: Annotated[
        str | None, typer.Option("--student", metavar="STUDENT", help="Whose it was.")
    ] = None,
    is_undo: IsUndo = False,
    is_json: IsJson = False,
) -> None:
    """Let a session count for the student who flew it.

    Example: levelhold reassign s20260324-03 --student TH05 --note "wrong code" --warehouse demo/warehouse
    """
    from pipeline import trend
    from pipeline.reading import school_settings

    if is_undo:
        _undo(warehouse, "reassign", session, note, is_json)
        return
    if student is None:
        raise UsageError("say whose the session was: --student STUDENT")
    place, now = existing_warehouse(warehouse), datetime.now(UTC)
    stored = trend.reassign(place, school_settings(place), session, student, note, now)
    _confirm(stored, f"reassigned {session} to {student}", is_json)


def _undo(warehouse: Path, kind: str, target: str, note: str, is_json: bool) -> None:
    from pipeline import trend
    from pipeline.reading import school_settings

    place, now = existing_warehouse(warehouse), datetime.now(UTC)
    stored = trend.undo(place, school_settings(place), kind, target, note, now)
    _confirm(stored, f"undone: the {kind} of {target} holds no longer", is_json)


def _confirm(stored: "Review", sentence: str, is_json: bool) -> None:
    tell(stored, [f"{stored.review_id}: {sentence}"], is_json)
