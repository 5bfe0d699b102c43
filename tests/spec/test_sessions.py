"""sessions: newest revisions that were not withdrawn, with what roster and device list say of them."""

# ruff: noqa: E501 (tables in text are wide)

import pytest

from tests.expected import assert_relation, stored
from tests.tables import rows_of

INPUTS = {
    "students": """
        student_id | cohort | stage
        TH01       | spring | solo
        TH02       | autumn | -""",
    "devices": "device_id | device_class | control | valid_from",
    "reviews": "kind | session_id | student_id | made_at",
}


def test_the_newest_revision_counts() -> None:
    assert_relation(
        "sessions",
        """session_id | revision | batch_id | student_id | cohort | stage | device_class | control
           S1         | 10       | b2       | TH01       | spring | solo  | simulator    | centring
           S2         | 1        | b1       | TH02       | autumn | -     | simulator    | centring""",
        stored_sessions=stored(
            "sessions",
            """session_id | revision | batch_id | student_id
               S1         | 9        | b3       | TH02
               S1         | 10       | b2       | TH01
               S2         | 1        | b1       | TH02""",
        ),
        **INPUTS,
    )


ONE = stored("sessions", "session_id | student_id\nS1 | TH01")


def test_a_withdrawn_session_is_gone() -> None:
    withdrawn = f"{INPUTS['reviews']}\nwithdraw | S1 | - | 2026-03-15"
    assert rows_of("sessions", **{**INPUTS, "stored_sessions": ONE, "reviews": withdrawn}) == []


def test_a_reassigned_session_counts_for_the_last_student_it_was_given_to() -> None:
    notes = f"""{INPUTS["reviews"]}
        reassign    | S1 | TH02 | 2026-03-16
        reassign    | S1 | TH09 | 2026-03-15
        acknowledge | S1 | TH09 | 2026-03-17
        reassign    | S2 | TH09 | 2026-03-18"""
    [row] = rows_of("sessions", **{**INPUTS, "stored_sessions": ONE, "reviews": notes})
    assert (row["student_id"], row["cohort"]) == ("TH02", "autumn")


def test_a_student_who_is_not_on_the_roster_has_no_cohort() -> None:
    unknown = stored("sessions", "student_id\nTH77")
    [row] = rows_of("sessions", **{**INPUTS, "stored_sessions": unknown})
    assert (row["student_id"], row["cohort"], row["stage"]) == ("TH77", None, None)


@pytest.mark.parametrize(
    ("devices", "found"),
    [
        ("SIM-1 | aeroplane | free | -", ("aeroplane", "free")),
        ("SIM-1 | aeroplane | free | 2026-03-14", ("aeroplane", "free")),
        ("SIM-1 | aeroplane | free | 2026-03-15", ("simulator", "centring")),
        ("SIM-1 | aeroplane | free | -\nSIM-1 | simulator | centring | 2026-01-01", ("simulator", "centring")),
        ("SIM-9 | aeroplane | free | -", ("simulator", "centring")),
    ],
)  # fmt: skip
def test_the_device_list_counts_as_it_held_on_the_day(devices: str, found: tuple[str, str]) -> None:
    listed = f"{INPUTS['devices']}\n{devices}"
    [row] = rows_of("sessions", **{**INPUTS, "stored_sessions": ONE, "devices": listed})
    assert (row["device_class"], row["control"]) == found


def test_no_sessions() -> None:
    assert rows_of("sessions", **{**INPUTS, "stored_sessions": stored("sessions")}) == []
