"""Who and what is left out of an export, by reason: counted by hand, told only where it is safe."""

from typing import Any

import pyarrow as pa

from pipeline.export import ExportChoice
from tests.tables import rows_of, table

SHAREABLE = """
    student_id | left_out_reason
    A          | -
    B          | -
    C          | -
    D          | -
    E          | no consent to research
    F          | no answer about research
    G          | not in the cohort asked for"""
STUDENTS = """
    student_id | left_on
    A          | 2026-02-01
    B          | -
    C          | -
    D          | -
    E          | -
    F          | -
    G          | -"""
SESSIONS = """
    session_id | student_id | session_date
    a1         | A          | 2026-01-05
    a2         | A          | 2026-01-06
    b1         | B          | 2026-01-05
    c1         | C          | 2026-01-05
    e1         | E          | 2026-01-05"""
MEMBERS = """
    cell_id | student_id
    big     | A
    small   | A
    small   | B"""
FIGURES = """
    session_id | aspect   | figure_reason
    a1         | altitude | -
    a2         | altitude | rougher air (rough, as the log shows)
    b1         | altitude | -
    c1         | altitude | -"""
MANEUVERS = """
    maneuver_id | session_id | kind  | not_scored_reason
    a1.1.01     | a1         | level | -
    a1.1.02     | a1         | level | set aside: she was ill
    a1.1.03     | a1         | turn  | only level maneuvers are scored
    b1.1.01     | b1         | level | -"""
EVENTS = """
    maneuver_id | figure:text | time_s | is_in_curves | settling_reason
    a1.1.03     | settled     | 12     | yes          | -
    a1.1.03     | set         | -      | no           | pitch control not logged
    b1.1.01     | set         | 9      | no           | -"""


def counted(level: str = "cohort") -> dict[tuple[str, str, str], tuple[int, int]]:
    rows = rows_of(
        "share_left_out",
        shareable_students=SHAREABLE,
        students=STUDENTS,
        sessions=SESSIONS,
        session_figures=FIGURES,
        maneuvers=MANEUVERS,
        shared_events=EVENTS,
        cell_members=MEMBERS,
        withheld_cells=table("cell_id\nsmall"),
        shown_traits="student_id\nA\nB",
        export_choice=ExportChoice(level=level).table(),  # type: ignore[arg-type]
    )
    return {
        (r["counted"], r["figure_of"], r["reason_code"]): (r["counted_count"], r["student_count"])
        for r in rows
    }


def test_every_student_asked_for_has_one_reason_and_who_left_is_in_it() -> None:
    found = {code: n for (what, _, code), (n, _) in counted().items() if what == "students"}
    assert found == {
        "in": 1,  # A
        "has_left": 1,  # A
        "stands_out": 1,  # B: in a withheld cell only
        "no_figure": 1,  # C
        "no_session": 1,  # D
        "refused": 1,  # E
        "not_answered": 1,  # F; G was not asked for
    }


def test_in_rows_the_k_check_decides_who_is_in_it() -> None:
    found = {
        code: n for (what, _, code), (n, _) in counted("student").items() if what == "students"
    }
    assert (found["in"], found["stands_out"], found["no_session"]) == (2, 1, 1)
    assert "no_figure" not in found


def test_sessions_maneuvers_and_events_of_those_in_it_are_counted_by_code() -> None:
    found = counted()
    assert found["sessions", "altitude", "in"] == (1, 1)
    assert found["sessions", "altitude", "rougher_air"] == (1, 1)
    assert found["maneuvers", "any", "in"] == (1, 1)
    assert found["maneuvers", "any", "set_aside"] == (1, 1)
    assert ("maneuvers", "any", "not_level") not in found
    assert found["events", "settled", "in"] == (1, 1)
    assert found["events", "set", "not_logged"] == (1, 1)


def test_each_level_tells_of_what_it_holds() -> None:
    told = {level: {what for what, _, _ in counted(level)} for level in ("student", "maneuver")}
    assert told == {
        "student": {"students", "sessions", "maneuvers"},
        "maneuver": {"students", "maneuvers", "events"},
    }
    assert counted("maneuver")["events", "set", "not_followed"] == (1, 1)


COUNTS = """
    counted:text | figure_of:text | reason_code:text | counted_count | total_count | student_count
    students     | any            | in               | 37            | 60          | 37
    students     | any            | refused          | 14            | 60          | 14
    students     | any            | no_session       | 9             | 60          | 9
    sessions     | trim           | in               | 180           | 200         | 37
    sessions     | trim           | rougher_air      | 17            | 200         | 10
    sessions     | trim           | no_level         | 3             | 200         | 3"""


def released(counts: str = COUNTS) -> dict[tuple[str, str], dict[str, Any]]:
    limits = pa.table({"name": ["share_minimum_students"], "value": [10.0]})
    rows = rows_of("released_left_out", share_left_out=counts, own_limits=limits)
    return {(row["counted"], row["reason_code"]): row for row in rows}


def test_reasons_of_fewer_than_ten_students_are_one_row_without_a_number() -> None:
    found = released()
    assert found.keys() == {
        *(("students", code) for code in ("in", "refused", "rest")),
        *(("sessions", code) for code in ("in", "rougher_air", "rest")),
    }
    for what in ("students", "sessions"):
        rest = found[what, "rest"]
        assert rest["is_withheld"]
        assert (rest["students_about"], rest["share_percent"]) == (None, None)


def test_numbers_are_rounded_and_no_share_of_students_is_given() -> None:
    found = released()
    assert found["students", "in"]["students_about"] == 40
    assert found["students", "refused"]["students_about"] == 10
    assert found["students", "refused"]["share_percent"] is None
    air = found["sessions", "rougher_air"]
    assert (air["students_about"], air["share_percent"]) == (10, 9)


def test_whether_nobody_or_somebody_has_a_rare_reason_looks_the_same() -> None:
    nobody = "\n".join(line for line in COUNTS.splitlines() if "| no_" not in line)
    assert released(nobody) == released()


def test_every_code_has_one_meaning() -> None:
    rows = rows_of("left_out_meanings")
    codes = [row["reason_code"] for row in rows]
    assert len(codes) == len(set(codes))
    assert {"in", "rest", "refused", "rougher_air", "other"} <= set(codes)
