"""students and devices: of several lines for one, the newest counts."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation, stored


def test_the_newest_roster_line_of_a_student_counts() -> None:
    assert_relation(
        "students",
        """student_id | cohort | start_date | stage | left_on    | research_consent
           TH01       | spring | 2026-01-05 | solo  | 2026-03-01 | no
           TH02       | autumn | 2026-01-05 | -     | -          | yes""",
        stored_roster=stored(
            "roster",
            """student_id | cohort | start_date | stage | left_on    | research_consent | batch_id
               TH01       | spring | 2026-01-05 | solo  | 2026-03-01 | no               | b20260302T020000Z-000000
               TH01       | spring | 2026-01-05 | dual  | -          | yes              | b20260105T020000Z-ffffff
               TH02       | autumn | 2026-01-05 | -     | -          | yes              | b20260105T020000Z-ffffff""",
        ),
    )  # fmt: skip


def test_no_roster_no_students() -> None:
    assert_relation("students", "student_id | cohort", stored_roster=stored("roster"))
