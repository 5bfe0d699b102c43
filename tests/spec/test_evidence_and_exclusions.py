"""evidence_maneuvers and exclusions: what a standing rests on, and what was left out."""

# ruff: noqa: E501 (tables in text are wide)

from tests.tables import rows_of

FIGURES = """
    student_id | aspect   | stratum | device_class | session_id | session_date | session_no | is_counted | level_count | figure_reason
    A          | altitude | sim     | simulator    | s1         | 2026-03-01   | 1          | yes        | 2           | -
    A          | altitude | sim     | simulator    | s2         | 2026-03-02   | 2          | yes        | 2           | -
    A          | altitude | sim     | simulator    | s3         | 2026-03-03   | 3          | yes        | 2           | -
    A          | altitude | sim     | simulator    | s4         | 2026-03-04   | 4          | yes        | 2           | -
    A          | altitude | sim     | simulator    | s5         | 2026-03-05   | 5          | yes        | 3           | -
    A          | altitude | sim     | simulator    | s6         | 2026-03-06   | -          | no         | 3           | rougher air (rough)
    A          | altitude | sim     | simulator    | s7         | 2026-03-06   | -          | no         | 0           | no level maneuver in the session"""
SCORES = """
    maneuver_id | session_id | aspect   | tolerance_ratio | basis    | is_in_figure | score_reason
    m1          | s1         | altitude | 1.0             | assigned | yes          | -
    m2          | s2         | altitude | 1.2             | assigned | yes          | -
    m5          | s5         | altitude | 1.5             | assigned | yes          | -
    m6          | s5         | altitude | -               | assigned | yes          | set aside by an instructor
    m7          | s5         | altitude | 0.1             | inferred | no           | -
    m9          | s6         | altitude | 5.0             | assigned | yes          | -"""


def test_evidence_is_the_scored_maneuvers_of_the_last_four_sessions_that_count() -> None:
    rows = rows_of(
        "evidence_maneuvers",
        session_figures=FIGURES,
        maneuver_scores=SCORES,
        current_levels="student_id | aspect | stratum | session_no\nA | altitude | sim | 5",
    )
    assert [(r["maneuver_id"], r["ago"]) for r in rows] == [("m2", 3), ("m5", 0)]


def test_exclusions_tell_sessions_and_maneuvers_with_their_reasons() -> None:
    rows = rows_of(
        "exclusions",
        session_figures=FIGURES,
        maneuver_scores=SCORES,
        maneuvers="""
            maneuver_id | session_id | kind  | is_scored | not_scored_reason
            m5          | s5         | level | yes       | -
            m8          | s5         | level | no        | flown by the instructor
            t1          | s5         | turn  | no        | -""",
    )
    assert {(r["session_id"], r["maneuver_id"]): r["reason"] for r in rows} == {
        ("s6", None): "rougher air (rough)",
        ("s5", "m6"): "set aside by an instructor",
        ("s5", "m7"): "found in the log of a session that has assigned maneuvers",
        ("s5", "m8"): "flown by the instructor",
    }
