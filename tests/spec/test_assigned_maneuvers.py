"""assigned_maneuvers: each task of every revision, with a code of its own."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation, stored
from tests.tables import rows_of


def test_the_code_tells_session_revision_and_number() -> None:
    assert_relation(
        "assigned_maneuvers",
        """maneuver_id | session_id | revision | kind | basis    | start_s | end_s | target_altitude_ft | flown_by
           S1.1.01     | S1         | 1        | level | assigned | 0      | 60    | 4000               | student
           S1.2.01     | S1         | 2        | level | assigned | 0      | 61    | 4000               | student
           S1.2.12     | S1         | 2        | turn  | assigned | 61     | 90    | -                  | instructor
           S1.2.123    | S1         | 2        | climb | assigned | 90     | 99    | -                  | student""",
        stored_tasks=stored(
            "tasks",
            """revision | task_no | start_s | end_s | kind  | target_altitude_ft | flown_by
               1        | 1       | 0       | 60    | level | 4000               | student
               2        | 1       | 0       | 61    | level | 4000               | student
               2        | 12      | 61      | 90    | turn  | -                  | instructor
               2        | 123     | 90      | 99    | climb | -                  | student""",
        ),
    )


def test_no_tasks_no_maneuvers() -> None:
    assert rows_of("assigned_maneuvers", stored_tasks=stored("tasks")) == []
