"""student_states and the short lists: insufficient data, not seen, new, cleared."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.tables import rows_of

STUDENTS = """
    student_id | cohort | stage | start_date | left_on
    A          | c1     | -     | 2026-01-01 | -
    B          | c1     | -     | 2026-01-01 | -
    C          | c1     | -     | 2026-01-01 | 2026-03-20
    D          | c1     | -     | 2026-03-25 | -
    E          | c1     | -     | 2026-01-01 | -"""
SESSIONS = """
    session_id | student_id | session_date
    a1         | A          | 2026-03-19
    b1         | B          | 2026-02-27
    c1         | C          | 2026-03-19
    b2         | B          | 2026-03-30"""
LEVELS = """
    student_id | aspect   | stratum | cohort | is_current | state                                 | trend     | session_no | level_ratio | level_low | level_high | level_ratio_adjusted | p_not_met | confidence | is_flagged | since_date | cleared_date | is_device_doubt | flown_sessions | excluded_sessions | excluded_share
    A          | altitude | sim     | c1     | yes        | meets the standard                    | none seen | 7          | 0.8         | 0.7       | 0.9        | 0.8                  | 0.1       | 0.1        | no         | -          | 2026-03-14   | no              | 8              | 1                 | 0.125
    A          | altitude | plane   | c1     | no         | outside the standard                  | none seen | 7          | 0.8         | 0.7       | 0.9        | 0.8                  | 0.1       | 0.1        | yes        | -          | 2026-03-13   | no              | 8              | 1                 | 0.125
    A          | heading  | sim     | c1     | yes        | insufficient data                     | none seen | 2          | 0.8         | 0.7       | 0.9        | 0.8                  | 0.1       | 0.1        | no         | -          | -            | no              | 3              | 1                 | 0.333
    A          | trim     | sim     | c1     | yes        | about at the standard, cannot say yet | none seen | 4          | 1.3         | 1.1       | 1.5        | 1.05                 | 0.9       | 0.6        | no         | -          | 2026-03-13   | yes             | 9              | 5                 | 0.556
    B          | altitude | sim     | c1     | yes        | outside the standard                  | none seen | 7          | 1.8         | 1.7       | 1.9        | 1.8                  | 0.9       | 0.9        | yes        | 2026-02-27 | -            | no              | 8              | 1                 | 0.125
    C          | altitude | sim     | c1     | yes        | outside the standard                  | none seen | 7          | 1.8         | 1.7       | 1.9        | 1.8                  | 0.9       | 0.9        | no         | -          | 2026-03-19   | no              | 8              | 1                 | 0.125"""
FIGURES = """
    student_id | aspect   | stratum | device_id | is_counted
    A          | altitude | sim     | D1        | yes
    A          | altitude | sim     | D2        | yes
    A          | trim     | sim     | D1        | yes
    A          | trim     | sim     | D2        | yes
    B          | altitude | sim     | D1        | yes
    E          | trim     | sim     | D3        | yes"""
EXCLUSIONS = """
    student_id | aspect  | session_id | maneuver_id | reason
    A          | heading | x1         | -           | rougher air (rough)
    A          | trim    | x1         | -           | rougher air (rough)
    A          | trim    | x2         | -           | rougher air (rough)
    A          | trim    | x3         | m1          | too short"""
AS_OF = "as_of_date\n2026-03-20"


@pytest.fixture(scope="module")
def states() -> dict[tuple[str, str], dict[str, Any]]:
    rows = rows_of(
        "student_states",
        students=STUDENTS,
        sessions=SESSIONS,
        current_levels=LEVELS,
        session_figures=FIGURES,
        exclusions=EXCLUSIONS,
        as_of=AS_OF,
    )
    return {(r["student_id"], r["aspect"]): r for r in rows}


States = dict[tuple[str, str], dict[str, Any]]


def test_every_student_who_is_here_has_a_state_in_each_aspect(states: States) -> None:
    assert {s for s, _ in states} == {"A", "B", "E"}
    assert len(states) == 9


def test_no_session_at_all_is_insufficient_data(states: States) -> None:
    row = states["E", "altitude"]
    assert (row["state"], row["state_reason"]) == (
        "insufficient data",
        "no session counts, 3 are needed",
    )
    assert (row["last_session_date"], row["is_not_seen"]) == (None, False)


def test_insufficient_data_tells_what_was_left_out(states: States) -> None:
    assert (
        states["A", "heading"]["state_reason"]
        == "2 sessions count, 3 are needed; left out: rougher air (rough), 1 session"
    )


def test_a_state_tells_its_figures(states: States) -> None:
    assert (
        states["A", "altitude"]["state_reason"]
        == "0.80 times the standard (80 % interval 0.70 to 0.90) over 7 sessions"
    )
    assert (
        states["A", "trim"]["state_reason"]
        == "5 of 9 sessions were left out: rougher air (rough), 2 sessions"
    )


def test_twenty_one_days_without_a_session_freeze_the_state_and_say_so(states: States) -> None:
    row = states["B", "altitude"]
    assert (row["days_since"], row["is_not_seen"], row["state"]) == (
        21,
        True,
        "outside the standard",
    )
    assert states["A", "altitude"]["is_not_seen"] is False


def test_one_device_that_few_others_flew_cannot_be_told_from_the_person(states: States) -> None:
    assert states["B", "altitude"]["device_caution"] == (
        "all sessions were on D1, flown by only 1 other student: person and device cannot be told apart"
    )
    assert states["A", "altitude"]["device_caution"] is None


def test_figures_outside_only_because_of_devices_are_no_flag_and_say_so(states: States) -> None:
    assert states["A", "trim"]["device_caution"] == (
        "outside only until the devices' effects are taken off (1.30 becomes 1.05): no flag"
    )


def test_insufficient_data_is_a_list_of_its_own() -> None:
    rows = rows_of(
        "insufficient_data",
        student_states="""
            student_id | aspect   | cohort | state              | state_reason | sessions_counted | sessions_flown | sessions_excluded | last_session_date | days_since
            A          | altitude | c1     | insufficient data  | why          | 1                | 2              | 1                 | 2026-03-19        | 1
            A          | heading  | c1     | meets the standard | why          | 5                | 2              | 1                 | 2026-03-19        | 1""",
    )
    assert [(r["aspect"], r["reason"]) for r in rows] == [("altitude", "why")]


def test_not_seen_counts_from_the_last_session_or_the_start_and_forgets_who_left() -> None:
    rows = rows_of("not_seen", students=STUDENTS, sessions=SESSIONS, as_of=AS_OF)
    assert [(r["student_id"], r["days_since"]) for r in rows] == [("E", 78), ("B", 21)]


def test_new_is_what_was_raised_on_the_day_asked_for() -> None:
    rows = rows_of(
        "new_flags",
        flags="""student_id | aspect   | cohort | since_date | confidence | reason
                 A          | altitude | c1     | 2026-03-20 | 0.9        | 1
                 A          | heading  | c1     | 2026-03-19 | 0.9        | 1""",
        as_of=AS_OF,
    )
    assert [r["aspect"] for r in rows] == ["altitude"]


def test_cleared_is_told_for_a_week_and_not_of_those_who_left() -> None:
    rows = rows_of("cleared_flags", current_levels=LEVELS, students=STUDENTS, as_of=AS_OF)
    assert [(r["student_id"], r["aspect"], str(r["cleared_date"])) for r in rows] == [
        ("A", "altitude", "2026-03-14")
    ]
