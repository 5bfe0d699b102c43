"""flags: what stands at the date asked for, said in one sentence with its figures."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.tables import rows_of, table

INPUTS = {
    "as_of": "as_of_date\n2026-03-20",
    "students": "student_id | left_on\nA | -\nB | 2026-03-21\nC | 2026-03-20",
    "current_levels": """
        student_id | aspect   | stratum    | session_id | cohort | device_class | standard_id   | tolerance | unit      | session_date | days_since | session_no | level_ratio | level_low | level_high | confidence | p_not_met | p_not_met_adjusted | trend     | since_date | recent_outside | recent_sessions | is_flagged
        A          | altitude | sim, first | s1         | c1     | simulator    | first-lessons | 200       | ft        | 2026-03-18   | 2          | 5          | 1.35        | 1.1       | 1.65       | 0.931      | 0.94      | 0.931              | none seen | 2026-03-10 | 4              | 4               | yes
        A          | altitude | aer, first | s2         | c1     | aeroplane    | first-lessons | 200       | ft        | 2026-03-01   | 19         | 3          | 2.00        | 1.5       | 2.50       | 0.999      | 0.999     | 0.999              | none seen | 2026-03-01 | 3              | 3               | yes
        A          | trim     | sim        | s1         | c1     | simulator    | -             | 0.05      | of travel | 2026-03-18   | 2          | 6          | 1.70        | 1.2       | 2.40       | 0.995      | 0.996     | 0.995              | slipping  | 2026-03-12 | 3              | 4               | yes
        A          | heading  | sim, first | s1         | c1     | simulator    | first-lessons | 20        | deg       | 2026-03-18   | 2          | 5          | 0.50        | 0.4       | 0.60       | 0.010      | 0.01      | 0.010              | none seen | -          | 0              | 4               | no
        B          | heading  | sim, first | s3         | c1     | simulator    | first-lessons | 20        | deg       | 2026-02-20   | 28         | 9          | 0.99        | 0.8       | 1.20       | 0.470      | 0.47      | 0.480              | none seen | 2026-02-01 | 2              | 4               | yes
        C          | heading  | sim, first | s4         | c1     | simulator    | first-lessons | 20        | deg       | 2026-03-18   | 2          | 5          | 2.00        | 1.8       | 2.20       | 0.999      | 0.99      | 0.999              | none seen | 2026-03-10 | 4              | 4               | yes""",
    "student_states": """
        student_id | aspect   | is_not_seen
        A          | altitude | no
        B          | heading  | yes""",
    "session_trends": """
        session_id | aspect   | is_adjusted | change_ln | window_sessions
        s1         | altitude | no          | 0.1       | 5
        s1         | trim     | no          | 0.3       | 6
        s2         | altitude | no          | 0.1       | 3
        s3         | heading  | no          | 0.1       | 9
        s4         | heading  | no          | 0.1       | 5""",
    "evidence_maneuvers": """
        student_id | aspect   | stratum    | maneuver_id | session_id | session_date | basis
        A          | altitude | sim, first | s1.1.02     | s1         | 2026-03-18   | assigned
        A          | altitude | sim, first | s1.1.01     | s1         | 2026-03-18   | assigned
        A          | altitude | sim, first | s0.1.i1     | s0         | 2026-03-12   | inferred
        A          | altitude | aer, first | s2.1.01     | s2         | 2026-03-01   | assigned
        A          | trim     | sim        | s1.1.01     | s1         | 2026-03-18   | assigned
        B          | heading  | sim, first | s3.1.01     | s3         | 2026-02-20   | assigned
        C          | heading  | sim, first | s4.1.01     | s4         | 2026-03-18   | assigned""",
    "exclusions": """
        student_id | aspect   | device_class | session_id | session_date | maneuver_id | reason
        A          | altitude | simulator    | s8         | 2026-03-13   | -           | rougher air (rough)
        A          | altitude | simulator    | s9         | 2026-03-14   | -           | rougher air (rough)
        A          | altitude | simulator    | s1         | 2026-03-18   | s1.1.03     | set aside by an instructor
        A          | altitude | simulator    | s7         | 2026-03-11   | -           | before the evidence
        A          | altitude | aeroplane    | s6         | 2026-03-14   | -           | another class""",
    "fault_signs": """
        student_id | aspect   | stratum    | fault           | fault_words
        A          | altitude | sim, first | altitude_high   | 120 ft high on average
        A          | altitude | aer, first | altitude_spread | wandering
        A          | trim     | sim        | held_pull       | a steady pull is held, 0.085 of travel on average
        B          | heading  | sim, first | heading_spread  | wandering by 11.0° about its own mean
        C          | heading  | sim, first | heading_spread  | wandering""",
    "settling_shares": """
        student_id | session_id | device_class | event_count | settled_share | is_slow | is_latest
        A          | s1         | simulator    | 14          | 0.143         | yes     | yes
        A          | s0         | simulator    | 13          | 0.2           | yes     | no""",
    "reviews": "review_id | kind | student_id | aspect | note | made_at | until",
}  # fmt: skip

Found = dict[tuple[str, str], dict[str, Any]]


def flags(**changed: str) -> Found:
    return {(r["student_id"], r["aspect"]): r for r in rows_of("flags", **{**INPUTS, **changed})}


@pytest.fixture(scope="module")
def found() -> Found:
    return flags()


def test_one_row_per_student_and_aspect_of_those_who_have_not_left(found: Found) -> None:
    assert sorted(found) == [("A", "altitude"), ("A", "trim"), ("B", "heading")]


def test_the_surest_flag_comes_first(found: Found) -> None:
    assert next(iter(found)) == ("A", "trim")


def test_of_two_classes_the_one_flown_last_is_told(found: Found) -> None:
    assert found["A", "altitude"]["device_class"] == "simulator"


def test_the_reason_gives_sessions_size_interval_chance_and_fault(found: Found) -> None:
    assert found["A", "altitude"]["reason"] == (
        "Altitude outside ±200 ft in 4 of the last 4 simulator sessions; now held to about ±270 ft, "
        "1.4 times the tolerance (80 % interval 1.1 to 1.6), 93 % sure that it is outside; 120 ft high on average."
    )


def test_held_control_and_slipping_are_told_in_their_own_words(found: Found) -> None:
    assert found["A", "trim"]["reason"] == (
        "Held control beyond 0.05 of travel in 3 of the last 4 simulator sessions; now about 0.085 of travel either way (weighted over sessions, the newest most), "
        "1.7 times the limit (80 % interval 1.2 to 2.4), over 99 % sure that it is outside; "
        "a steady pull is held, 0.085 of travel on average; "
        "35 % wider than at the start of the last 6 sessions, seen at two sessions running; "
        "trimmed in time after only 14 % of the last 14 level-offs and power changes."
    )


def test_a_level_that_doubled_is_told_as_a_factor() -> None:
    grown = INPUTS["session_trends"].replace("| 0.3       | 6", "| 1.2       | 6")
    reason = flags(session_trends=grown)["A", "trim"]["reason"]
    assert "; about 3.3 times as wide as at the start of the last 6 sessions, seen" in reason


def test_none_of_them_in_time_is_told_in_a_word() -> None:
    none = """
        student_id | session_id | device_class | event_count | settled_share | is_slow | is_latest
        A          | s1         | simulator    | 15          | 0.0           | yes     | yes"""
    reason = flags(settling_shares=none)["A", "trim"]["reason"]
    assert reason.endswith(
        "; trimmed in time after none of the last 15 level-offs and power changes."
    )


def test_a_flag_that_is_on_its_way_to_clear_says_so(found: Found) -> None:
    assert found["B", "heading"]["reason"].endswith(
        "; lately more likely inside: the flag clears after 14 days of that."
    )
    assert found["B", "heading"]["is_not_seen"] is True


def test_the_evidence_is_the_maneuvers_in_order_and_says_which_sessions_flatter(
    found: Found,
) -> None:
    assert found["A", "altitude"]["evidence"] == ["s0.1.i1", "s1.1.01", "s1.1.02"]
    assert found["A", "altitude"]["inferred_sessions"] == 1


def test_what_was_left_out_since_is_told_with_its_reason(found: Found) -> None:
    assert found["A", "altitude"]["excluded"] == [
        "2 sessions: rougher air (rough)",
        "1 maneuver: set aside by an instructor",
    ]
    assert found["A", "trim"]["excluded"] == []


def test_one_exercise_is_suggested_for_the_fault(found: Found) -> None:
    assert "nose up" in found["A", "trim"]["exercise"]


@pytest.mark.parametrize(
    ("aspect", "made_at", "until", "shown"),
    [
        ("altitude", "2026-03-10T20:00", "-", True),
        ("altitude", "2026-03-09T20:00", "-", False),  # about an earlier flag
        ("-", "2026-03-11T20:00", "2026-03-20", True),
        ("altitude", "2026-03-11T20:00", "2026-03-19", False),
        ("trim", "2026-03-15T20:00", "-", False),
    ],
)
def test_an_acknowledgement_is_shown_while_it_holds(
    aspect: str, made_at: str, until: str, shown: bool
) -> None:
    row = flags(
        reviews=f"""review_id | kind        | student_id | aspect   | note       | made_at   | until
                    r1        | acknowledge | A          | {aspect} | seen today | {made_at} | {until}"""
    )["A", "altitude"]
    assert (row["acknowledged"], row["acknowledged_note"]) == (
        (True, "seen today") if shown else (False, None)
    )


def test_an_acknowledgement_changes_nothing_else(found: Found) -> None:
    after = flags(
        reviews="""review_id | kind        | student_id | aspect | note | made_at          | until
                   r1        | acknowledge | A          | -      | -    | 2026-03-19T00:00 | -"""
    )
    told = {"acknowledged", "acknowledged_note", "acknowledged_at", "acknowledged_until"}
    for key, row in found.items():
        assert {k: v for k, v in row.items() if k not in told} == {
            k: v for k, v in after[key].items() if k not in told
        }


def test_nothing_flown_gives_no_flags_and_no_error() -> None:
    empty = {name: table(text).slice(0, 0) for name, text in INPUTS.items()}
    assert rows_of("flags", **empty) == []
