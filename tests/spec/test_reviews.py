"""reviews: the instructors' notes that hold."""

import pyarrow as pa
import pytest

from tests.expected import assert_relation, stored
from tests.tables import rows_of

HEAD = "review_id | kind | session_id | maneuver_id | student_id | aspect | note | made_at"
LIMITS = "task_clip_s\n2"
TASKS_HEAD = (
    "revision | task_no | start_s | end_s | kind | target_altitude_ft | target_heading_deg"
    " | flown_by"
)
SESSIONS_HEAD = "revision | log_sha256 | tasks_sha256"


def inputs(
    notes: str | None = None, sessions: str = "1 | a | t", tasks: str = ""
) -> dict[str, str | pa.Table]:
    """What the relation reads: notes, the revisions of one session and their tasks."""
    return {
        "stored_reviews": stored("reviews", f"{HEAD}\n{notes}" if notes else ""),
        "stored_sessions": stored("sessions", f"{SESSIONS_HEAD}\n{sessions}"),
        "stored_tasks": stored("tasks", f"{TASKS_HEAD}\n{tasks}" if tasks else ""),
        "limits": LIMITS,
    }


def kept(notes: str, **given: str) -> list[str]:
    """The ids of the notes that hold."""
    return sorted(r["review_id"] for r in rows_of("reviews", **inputs(notes, **given)))


def test_a_note_is_told_as_it_was_made() -> None:
    assert_relation(
        "reviews",
        """review_id | kind      | maneuver_id | aspect  | note    | made_at
           r1        | set-aside | S1.1.01     | heading | traffic | 2026-03-15T08:00:00""",
        **inputs("r1 | set-aside | - | S1.1.01 | - | heading | traffic | 2026-03-15T08:00:00"),
    )


def test_what_was_taken_back_since_is_gone_and_so_is_the_taking_back() -> None:
    notes = """r1 | withdraw      | S1 | - | - | - | - | 2026-03-15T08:00:00
               r2 | undo-withdraw | S1 | - | - | - | - | 2026-03-16T08:00:00"""
    assert kept(notes) == []


def test_a_note_made_after_the_taking_back_holds() -> None:
    notes = """r1 | withdraw      | S1 | - | - | - | - | 2026-03-15T08:00:00
               r2 | undo-withdraw | S1 | - | - | - | - | 2026-03-16T08:00:00
               r3 | withdraw      | S1 | - | - | - | - | 2026-03-17T08:00:00"""
    assert kept(notes) == ["r3"]


def test_only_the_same_kind_of_note_on_the_same_thing_is_taken_back() -> None:
    notes = """r1 | set-aside     | -  | S1.1.01 | -  | - | - | 2026-03-15T08:00:00
               r2 | set-aside     | -  | S1.1.02 | -  | - | - | 2026-03-15T08:00:00
               r3 | withdraw      | S1 | -       | -  | - | - | 2026-03-15T08:00:00
               r4 | undo-set-aside | - | S1.1.01 | -  | - | - | 2026-03-16T08:00:00"""
    assert kept(notes) == ["r2", "r3"]


def test_no_notes() -> None:
    assert rows_of("reviews", **inputs()) == []


TWO = "1 | a | t\n2 | b | u"
"""A session delivered again with another log and other tasks."""


def carried(target: str, tasks: str, sessions: str = TWO) -> tuple[str, str | None]:
    """Where a note about `target`, made on revision 1, stands now, and why it holds no longer."""
    note = f"r1 | set-aside | - | {target} | - | - | traffic | 2026-03-15T08:00:00"
    (row,) = rows_of("reviews", **inputs(note, sessions, tasks))
    assert row["noted_maneuver_id"] == target
    return row["maneuver_id"], row["lapsed_reason"]


OLD = "1 | 2 | 100 | 200 | level | 3000 | 90 | student"
GONE = "revision 2 of the session has no such task any more"


@pytest.mark.parametrize(
    ("new", "now", "reason"),
    [
        ("2 | 2 | 100 | 200 | level | 3000 | 90 | student", "S1.2.02", None),
        ("2 | 5 | 100 | 200 | level | 3000 | 90 | student", "S1.2.05", None),
        ("2 | 2 | 100 | 202 | level | 3000 | 90 | student", "S1.2.02", None),
        ("2 | 2 | 100 | 203 | level | 3000 | 90 | student", "S1.1.02", GONE),
        ("2 | 2 | 100 | 200 | level | 3500 | 90 | student", "S1.1.02", GONE),
        ("2 | 2 | 100 | 200 | level | 3000 | -  | student", "S1.1.02", GONE),
        ("2 | 2 | 100 | 200 | turn  | 3000 | 90 | student", "S1.1.02", GONE),
        ("2 | 2 | 100 | 200 | level | 3000 | 90 | instructor", "S1.1.02", GONE),
        ("2 | 1 | 300 | 400 | level | 3000 | 90 | student", "S1.1.02", GONE),
    ],
)
def test_a_note_goes_over_to_the_same_task_of_a_new_revision(
    new: str, now: str, reason: str | None
) -> None:
    assert carried("S1.1.02", f"{OLD}\n{new}") == (now, reason)


def test_it_goes_to_the_newest_of_many_revisions_and_past_one_that_lacked_the_task() -> None:
    tasks = f"{OLD}\n3 | 2 | 100 | 200 | level | 3000 | 90 | student"
    assert carried("S1.1.02", tasks, f"{TWO}\n3 | c | t") == ("S1.3.02", None)


def test_what_was_found_in_the_log_is_the_same_only_in_the_same_log_beside_the_same_tasks() -> None:
    lost = "revision 2 of the session came with another log or other tasks"
    assert carried("S1.1.i03", OLD, "1 | a | -\n2 | a | -") == ("S1.2.i03", None)
    assert carried("S1.1.i03", OLD, "1 | a | -\n2 | b | -") == ("S1.1.i03", lost)
    assert carried("S1.1.i03", OLD, "1 | a | -\n2 | a | t") == ("S1.1.i03", lost)


def test_a_part_of_a_task_is_the_same_only_in_the_same_log() -> None:
    tasks = f"{OLD}\n2 | 3 | 100 | 200 | level | 3000 | 90 | student"
    assert carried("S1.1.02-2", tasks, "1 | a | t\n2 | a | u") == ("S1.2.03-2", None)
    moved, reason = carried("S1.1.02-2", tasks)
    assert moved == "S1.1.02-2"
    assert reason == "revision 2 of the session came with another log, or without that task"


def test_codes_that_hold_dots_or_name_what_is_not_there_stay() -> None:
    note = "r1 | set-aside | - | {} | - | - | - | 2026-03-15T08:00:00"
    sessions = stored(
        "sessions", "session_id | revision | log_sha256\nS.1.4 | 1 | a\nS.1.4 | 2 | b"
    )
    tasks = stored(
        "tasks",
        "session_id | revision | task_no | start_s | end_s | kind\n"
        "S.1.4 | 1 | 1 | 0 | 60 | level\nS.1.4 | 2 | 1 | 0 | 60 | level",
    )
    for target, now in (("S.1.4.1.01", "S.1.4.2.01"), ("S9.1.01", "S9.1.01"), ("odd", "odd")):
        given = inputs(note.format(target)) | {"stored_sessions": sessions, "stored_tasks": tasks}
        (row,) = rows_of("reviews", **given)
        assert (row["maneuver_id"], row["lapsed_reason"]) == (now, None)


def test_a_note_that_went_over_is_taken_back_by_either_code() -> None:
    tasks = f"{OLD}\n2 | 2 | 100 | 200 | level | 3000 | 90 | student"
    notes = """r1 | set-aside      | - | S1.1.02 | - | - | - | 2026-03-15T08:00:00
               r2 | undo-set-aside | - | {} | - | - | - | 2026-03-16T08:00:00"""
    for target in ("S1.1.02", "S1.2.02"):
        assert kept(notes.format(target), sessions=TWO, tasks=tasks) == []
