"""student_standards: which standard a student's current stage is held to."""

from tests.tables import rows_of


def test_a_mapped_stage_gets_its_standard_and_the_rest_first_lessons_with_a_reason() -> None:
    found = rows_of(
        "student_standards",
        students="""student_id | stage
                    A          | solo
                    B          | -
                    C          | orbit""",
        stage_standards="""stage | standard_id
                           solo  | easa-ppl""",
    )
    assert {r["student_id"]: (r["standard_id"], r["standard_reason"]) for r in found} == {
        "A": ("easa-ppl", None),
        "B": ("first-lessons", "no stage in the roster: held to first-lessons"),
        "C": (
            "first-lessons",
            "the settings name no standard for stage orbit: held to first-lessons",
        ),
    }
