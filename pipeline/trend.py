"""What instructors add to the store: flags acknowledged, flights set aside, withdrawn, reassigned.

A review never deletes anything. Levels, trends and flags come out of SQL (floors 6 to 8) from the
store alone; what a review changes there is said in the relations that read it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Final

import pyarrow as pa

from pipeline.errors import UsageError
from pipeline.reading import open_warehouse
from pipeline.schema.tables import REVIEWS
from pipeline.settings import Settings, nearest
from pipeline.store import Warehouse, hold_lock, write_parquet

ASPECTS: Final = ("altitude", "heading", "trim")
LONGEST_NOTE: Final = 1000


@dataclass(frozen=True)
class Review:
    """One note as it was stored. What a kind does not speak of is None."""

    review_id: str
    kind: str
    session_id: str | None
    maneuver_id: str | None
    student_id: str | None
    aspect: str | None
    note: str | None
    made_at: datetime
    until: date | None


def acknowledge(
    warehouse: Warehouse,
    settings: Settings,
    student_id: str,
    aspect: str | None,
    note: str,
    now: datetime,
    until: date | None = None,
) -> Review:
    """Store that an instructor has seen a student's flag (in all aspects where `aspect` is None).

    It stays visible while it holds and hides nothing; the flag stands as before. Raises UsageError
    when the student is not in the roster, the aspect is unknown, the note is empty or `until` has
    passed.
    """
    _check_known("student", student_id, _known(warehouse, settings, "students", "student_id"))
    if aspect is not None:
        _check_known("aspect", aspect, ASPECTS)
    if until is not None and until < now.date():
        raise UsageError(
            f"--until {until.isoformat()} has passed; give today's date or a later one"
        )
    _check_note(note)
    return _store(
        warehouse, now, "acknowledge", student_id=student_id, aspect=aspect, note=note, until=until
    )


def set_aside(
    warehouse: Warehouse,
    settings: Settings,
    target: str,
    note: str,
    now: datetime,
    aspect: str | None = None,
) -> Review:
    """Store that a maneuver, or all of a session, is not to count (in one aspect, or in all).

    It stays measured and shown, with the note as the reason that it is left out. Raises UsageError
    when `target` is neither a session nor a maneuver that counts.
    """
    if aspect is not None:
        _check_known("aspect", aspect, ASPECTS)
    _check_note(note)
    if target in _known(warehouse, settings, "sessions", "session_id"):
        return _store(warehouse, now, "set-aside", session_id=target, aspect=aspect, note=note)
    _check_known(
        "session or maneuver", target, _known(warehouse, settings, "maneuvers", "maneuver_id")
    )
    return _store(warehouse, now, "set-aside", maneuver_id=target, aspect=aspect, note=note)


def withdraw(
    warehouse: Warehouse, settings: Settings, session_id: str, note: str, now: datetime
) -> Review:
    """Store that a session is not to count at all. Raises UsageError when there is no such session."""
    _check_known("session", session_id, _known(warehouse, settings, "sessions", "session_id"))
    _check_note(note)
    return _store(warehouse, now, "withdraw", session_id=session_id, note=note)


def reassign(
    warehouse: Warehouse,
    settings: Settings,
    session_id: str,
    student_id: str,
    note: str,
    now: datetime,
) -> Review:
    """Store that a session was another student's. Raises UsageError when either is not known."""
    _check_known("session", session_id, _known(warehouse, settings, "sessions", "session_id"))
    _check_known("student", student_id, _known(warehouse, settings, "students", "student_id"))
    _check_note(note)
    return _store(
        warehouse, now, "reassign", session_id=session_id, student_id=student_id, note=note
    )


def undo(
    warehouse: Warehouse, settings: Settings, kind: str, target: str, note: str, now: datetime
) -> Review:
    """Store that a set-aside, withdraw or reassign of a session or maneuver holds no longer.

    The note that is taken back stays in the store, and so does this one. Raises UsageError when there
    is no such note about the target.
    """
    _check_note(note)
    con = open_warehouse(warehouse, settings, ["reviews"])
    query = "SELECT session_id, maneuver_id FROM reviews WHERE kind = ?"
    pairs = con.execute(query, [kind]).fetchall()
    if target not in {word for pair in pairs for word in pair}:
        known = [str(word) for pair in pairs for word in pair if word is not None]
        raise UsageError(f"there is no {kind} of {target!r} to undo{nearest(target, known)}")
    is_session = any(target == session_id for session_id, _ in pairs)
    session_id, maneuver_id = (target, None) if is_session else (None, target)
    return _store(
        warehouse,
        now,
        f"undo-{kind}",
        session_id=session_id,
        maneuver_id=maneuver_id,
        note=note,
    )


def _known(warehouse: Warehouse, settings: Settings, relation: str, column: str) -> Collection[str]:
    """The codes that a relation holds."""
    con = open_warehouse(warehouse, settings, [relation])
    rows = con.execute(f"SELECT DISTINCT {column} FROM {relation}").fetchall()
    return {str(row[0]) for row in rows}


def _check_known(what: str, given: str, known: Collection[str]) -> None:
    if given not in known:
        raise UsageError(f"there is no {what} {given!r} in this warehouse{nearest(given, known)}")


def _check_note(note: str) -> None:
    if not note.strip():
        raise UsageError("--note is empty; say in a few words what was seen or decided")
    if len(note) > LONGEST_NOTE:
        raise UsageError(f"--note has {len(note)} characters; {LONGEST_NOTE} are allowed")
    if any(ord(c) < 32 and c not in "\n\t" for c in note):
        raise UsageError("--note holds a control character; give plain text")


def _store(
    warehouse: Warehouse,
    now: datetime,
    kind: str,
    *,
    session_id: str | None = None,
    maneuver_id: str | None = None,
    student_id: str | None = None,
    aspect: str | None = None,
    note: str | None = None,
    until: date | None = None,
) -> Review:
    """Write one review to a file of its own, whole or not at all."""
    said = (kind, session_id, maneuver_id, student_id, aspect, note, now.isoformat(), until)
    digest = hashlib.sha256(repr(said).encode()).hexdigest()[:6]
    review = Review(
        review_id=f"r{now:%Y%m%dT%H%M%S}Z-{digest}",
        kind=kind,
        session_id=session_id,
        maneuver_id=maneuver_id,
        student_id=student_id,
        aspect=aspect,
        note=note.strip() if note else None,
        made_at=now,
        until=until,
    )
    table = pa.Table.from_pylist([asdict(review)], schema=REVIEWS)
    with hold_lock(warehouse, "review", now):
        write_parquet(table, warehouse.reviews / f"{review.review_id}.parquet", {"kind": "reviews"})
    return review
