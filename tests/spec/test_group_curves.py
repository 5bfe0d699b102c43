"""group_curves, cohort_classes, cohort_trends, cohort_states: how groups fly over weeks and sessions."""

# ruff: noqa: E501 (tables in text are wide)

import math
from typing import Any

import pytest

from tests.tables import rows_of

FIGURES = """
    session_id | student_id | cohort | aspect   | device_class | device_id | session_date | session_no | ln_ratio | is_counted | standard_id
    a1         | A          | c1     | altitude | simulator    | D1        | 2026-03-02   | 1          | 0.2      | yes | easy
    a2         | A          | c1     | altitude | simulator    | D1        | 2026-03-08   | 2          | -0.4     | yes | easy
    a3         | A          | c1     | altitude | simulator    | D1        | 2026-03-09   | 3          | 0.5      | yes | easy
    a4         | A          | c1     | altitude | simulator    | D1        | 2026-03-10   | -          | 9.0      | no | easy
    b1         | B          | c1     | altitude | simulator    | D2        | 2026-03-02   | 1          | 0        | yes | hard
    c1         | C          | c1     | altitude | simulator    | D2        | 2026-03-03   | 1          | 1.0      | yes | easy
    b2         | B          | c1     | altitude | aeroplane    | D9        | 2026-03-03   | 1          | 2.0      | yes | easy"""
SESSIONS = """
    session_id | lesson | instructor_id
    a1         | 1      | I1
    a2         | 2      | I1
    a3         | 2      | I1
    b1         | 1      | I2
    c1         | -      | I2
    b2         | 1      | I1"""
STUDENTS = """
    student_id | stage | start_date
    A          | solo  | 2026-03-02
    B          | solo  | 2026-03-02
    C          | -     | -"""


def cells(**changed: str) -> dict[tuple[Any, ...], dict[str, Any]]:
    inputs = {"session_figures": FIGURES, "sessions": SESSIONS, "students": STUDENTS} | changed
    keys = ("grouping", "group_value", "device_class", "axis", "step")
    return {tuple(r[k] for k in keys): r for r in rows_of("group_curves", **inputs)}


def test_each_student_counts_once_in_a_week_with_the_mean_of_its_sessions() -> None:
    row = cells()["cohort", "c1", "simulator", "week", 1]
    assert row["student_count"] == 3
    assert row["median"] == pytest.approx(math.exp(0.0))  # A -0.1, B 0, C 1
    assert row["q1"] == pytest.approx(math.exp(-0.05))
    assert row["q3"] == pytest.approx(math.exp(0.5))


def test_the_second_week_begins_on_the_eighth_day() -> None:
    assert cells()["cohort", "c1", "simulator", "week", 2]["student_count"] == 1


def test_on_the_edge_meets_the_standard() -> None:
    row = cells()["cohort", "c1", "simulator", "week", 1]
    assert (row["met_students"], row["met_share"]) == (2, pytest.approx(2 / 3))
    assert row["met_low"] < 2 / 3 < row["met_high"]


def test_groups_by_session_number_stage_lesson_and_device_keep_classes_apart() -> None:
    found = cells()
    assert found["cohort", "c1", "simulator", "session", 1]["student_count"] == 3
    assert found["cohort", "c1", "aeroplane", "session", 1]["student_count"] == 1
    assert found["stage", "solo", "simulator", "week", 1]["student_count"] == 2
    assert found["lesson", "2", "simulator", "week", 1]["median"] == pytest.approx(math.exp(-0.4))
    assert found["device", "D2", "simulator", "week", 1]["student_count"] == 2


def test_instructors_are_persons_too_and_shown_only_where_the_school_asks() -> None:
    assert "instructor" not in {k[0] for k in cells()}
    shown = cells(own_limits="name | value\nshow_instructors | 1")
    assert ("instructor", "I1", "simulator", "week", 1) in shown


def test_a_cohort_is_told_of_the_class_it_flies_most() -> None:
    figures = (
        FIGURES.replace("is_counted", "is_counted | level_count")
        .replace("| yes", "| yes | 3")
        .replace("| no", "| no | 3")
    )
    classes = rows_of("cohort_classes", session_figures=figures)
    assert [(r["cohort"], r["device_class"], r["session_count"]) for r in classes] == [
        ("c1", "simulator", 6)
    ]
    weeks = rows_of("cohort_trends", session_figures=figures, sessions=SESSIONS, students=STUDENTS)
    assert [(r["week"], r["student_count"], r["device_class"]) for r in weeks] == [
        (1, 3, "simulator"),
        (2, 1, "simulator"),
    ]


def test_a_group_is_told_with_every_standard_that_its_students_are_held_to() -> None:
    found = cells()
    assert found["cohort", "c1", "simulator", "week", 1]["standards"] == "easy, hard"
    assert found["cohort", "c1", "aeroplane", "week", 1]["standards"] == "easy"
    trims = cells(session_figures=FIGURES.replace("altitude", "trim"))
    assert trims["cohort", "c1", "simulator", "week", 1]["standards"] is None


def test_states_are_counted_per_cohort_and_aspect() -> None:
    (row,) = rows_of(
        "cohort_states",
        student_states="""
            student_id | cohort | aspect   | state                | is_flagged | is_not_seen
            A          | c1     | altitude | meets the standard   | no         | no
            B          | c1     | altitude | outside the standard | yes        | yes
            C          | c1     | altitude | insufficient data    | no         | no
            D          | c1     | altitude | plateau              | no         | no
            E          | c1     | altitude | slipping             | no         | no
            F          | c1     | altitude | improving            | no         | no
            G          | c1     | altitude | about at the standard, cannot say yet | no | no""",
    )
    states = (
        "flagged_students",
        "meeting_students",
        "improving_students",
        "slipping_students",
        "plateau_students",
        "undecided_students",
        "insufficient_students",
    )
    assert [row[c] for c in states] == [1] * 7
    assert sum(row[c] for c in states) == row["student_count"]
    counts = (
        "student_count",
        "flagged_students",
        "meeting_students",
        "insufficient_students",
        "not_seen_students",
    )
    assert [row[c] for c in counts] == [7, 1, 1, 1, 1]
