"""Forgetting one student: every file that names them is written anew without them, or goes."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pyarrow.parquet as pq

from pipeline.errors import UsageError
from pipeline.land.forget_batches import forget_in_batches, forget_in_measures
from pipeline.land.forget_files import (
    forget_in_memory,
    forget_in_quarantine,
    forget_in_releases,
    forget_in_reviews,
    forget_in_runs,
)
from pipeline.land.mentions import Named, files_that_name
from pipeline.land.papers import read_paper
from pipeline.land.rows import SESSION_COLUMNS, SESSION_OPTIONAL
from pipeline.reading import open_warehouse
from pipeline.settings import Settings, nearest
from pipeline.store import Change, Warehouse, hold_lock, read_forgotten, sweep
from pipeline.store.forgotten import KEY_NAME, hashes_file, new_key

_OWNERS = """
    WITH named AS (
        SELECT
            session_id,
            ARG_MAX(student_id, (revision, batch_id)) AS student_id,
            BOOL_OR(student_id = $student) AS is_named
        FROM stored_sessions
        GROUP BY session_id
    ),

    reassigned AS (
        SELECT
            session_id,
            ARG_MAX(student_id, made_at) AS student_id
        FROM reviews
        WHERE kind = 'reassign'
        GROUP BY session_id
    )

    SELECT
        n.session_id,
        COALESCE(r.student_id, n.student_id) AS owner_id
    FROM named AS n
    LEFT JOIN reassigned AS r ON n.session_id = r.session_id
    WHERE n.is_named OR COALESCE(r.student_id, n.student_id) = $student
"""


@dataclass(frozen=True)
class ForgetReport:
    """What forgetting changed: the sessions that went, files written anew, files removed, by their paths.

    `still_named_in` are files of the store that name the student after all: found by reading everything
    again. `is_done` is False where it was only looked at what would change.
    """

    session_count: int
    rewritten: tuple[str, ...]
    removed: tuple[str, ...]
    still_named_in: tuple[str, ...]
    is_done: bool


def forget_student(
    warehouse: Warehouse,
    settings: Settings,
    student_id: str,
    now: datetime,
    *,
    inbox: Path | None = None,
    is_trial: bool = False,
) -> ForgetReport:
    """Take one student out of every file of the store, as one act, and prove it by reading all of it again.

    Their sessions go; a session of another student that was delivered under their code is kept for
    that student. The codes are kept as keyed hashes only, so that nothing of them lands again. `inbox`
    also tells sessions that never landed, whose copies may lie in quarantine. A trial changes nothing.
    Raises UsageError where nothing is known of the student, StoreDamaged where a file that is to be
    written anew is not what was committed.
    """
    with hold_lock(warehouse, "forget", now):
        sweep(warehouse, spare_readers=False)
        owners = _owners(warehouse, settings, student_id)
        sessions = {s for s, owner in owners.items() if owner == student_id}
        waiting = _announced(inbox, settings, student_id) if inbox is not None else set()
        waiting -= _stored(warehouse)
        named = Named(student_id, frozenset(sessions | waiting))
        if not owners and not any(True for _ in files_that_name(warehouse, named)):
            if read_forgotten(warehouse).holds("student", student_id):
                return ForgetReport(0, (), (), (), is_done=True)
            raise UsageError(_unknown(warehouse, settings, student_id))
        with Change(warehouse) as change:
            _prepare(warehouse, change, named, owners, now)
            if not is_trial:
                change.commit()
        left = () if is_trial else tuple(files_that_name(warehouse, named))
        return ForgetReport(
            len(sessions), change.put_files, change.removed_files, left, is_done=not is_trial
        )


def _prepare(
    warehouse: Warehouse, change: Change, named: Named, owners: dict[str, str], now: datetime
) -> None:
    """All that is to change, the hashes first: what is gone must not land again."""
    key = _hashes(warehouse, change, named, now)
    rebooked = {s: owner for s, owner in owners.items() if owner != named.student_id}
    forget_in_batches(warehouse, change, named, rebooked)
    forget_in_measures(warehouse, change, named)
    forget_in_reviews(warehouse, change, named)
    forget_in_releases(warehouse, change, named, key)
    forget_in_runs(warehouse, change, named)
    forget_in_memory(warehouse, change, named)
    forget_in_quarantine(warehouse, change, named)
    pages = warehouse.pages
    for folder in (pages, *(pages.with_name(f".pages.{e}") for e in ("part", "old"))):
        if folder.exists():
            change.remove(folder)


def _hashes(warehouse: Warehouse, change: Change, named: Named, now: datetime) -> bytes:
    known = read_forgotten(warehouse)
    key_file = warehouse.forgotten / KEY_NAME
    key = known.key or new_key()
    if not known.key:
        change.put_bytes(key.hex().encode(), key_file)
    content = hashes_file(key, named.student_id, sorted(named.session_ids))
    stem = f"f{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    taken = {path.stem for path in warehouse.forgotten.glob("f*.json")}
    name = next(n for i in range(1, len(taken) + 2) if (n := f"{stem}-{i}") not in taken)
    change.put_bytes(content, warehouse.forgotten / f"{name}.json")
    return key


def _owners(warehouse: Warehouse, settings: Settings, student_id: str) -> dict[str, str]:
    """Each session that was ever the student's, by stored row or by correction, with whose it is now."""
    con = open_warehouse(warehouse, settings, ["stored_sessions", "reviews"])
    rows = con.execute(_OWNERS, {"student": student_id}).fetchall()
    return {str(session_id): str(owner) for session_id, owner in rows}


def _announced(inbox: Path, settings: Settings, student_id: str) -> set[str]:
    """The sessions that the inbox's sessions.csv announces for the student."""
    path = inbox / "sessions.csv"
    if not path.exists():
        return set()
    limit = settings.landing.max_paper_rows
    paper = read_paper(path.read_bytes(), path.name, SESSION_COLUMNS, SESSION_OPTIONAL, limit)
    rows = (row.cells for row in paper.rows if row.cells.get("student_id") == student_id)
    return {cells["session_id"] for cells in rows if cells.get("session_id")}


def _stored(warehouse: Warehouse) -> set[str]:
    """Every session of the store: whose those are, the store knows better than the inbox."""
    paths = warehouse.table_files("sessions")
    columns = (pq.read_table(p, columns=["session_id"], partitioning=None)[0] for p in paths)
    return {str(value) for column in columns for value in column.to_pylist()}


def _unknown(warehouse: Warehouse, settings: Settings, student_id: str) -> str:
    con = open_warehouse(warehouse, settings, ["students"])
    rows = con.execute("SELECT student_id FROM students").fetchall()
    known: Collection[str] = [str(row[0]) for row in rows]
    return f"there is no student {student_id!r} in this warehouse{nearest(student_id, known)}"
