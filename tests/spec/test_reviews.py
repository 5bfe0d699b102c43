"""reviews: the instructors' notes that hold."""

from tests.expected import assert_relation, stored
from tests.tables import rows_of

HEAD = "review_id | kind | session_id | maneuver_id | student_id | aspect | note | made_at"


def kept(notes: str) -> list[str]:
    """The ids of the notes that hold."""
    rows = rows_of("reviews", stored_reviews=stored("reviews", f"{HEAD}\n{notes}"))
    return sorted(r["review_id"] for r in rows)


def test_a_note_is_told_as_it_was_made() -> None:
    assert_relation(
        "reviews",
        """review_id | kind      | maneuver_id | aspect  | note    | made_at
           r1        | set-aside | S1.1.01     | heading | traffic | 2026-03-15T08:00:00""",
        stored_reviews=stored(
            "reviews",
            """review_id | kind      | maneuver_id | aspect  | note    | made_at
               r1        | set-aside | S1.1.01     | heading | traffic | 2026-03-15T08:00:00""",
        ),
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
    assert rows_of("reviews", stored_reviews=stored("reviews")) == []
