"""tasks: those of the sessions that count."""

from tests.expected import assert_relation, stored

SESSIONS = "session_id | revision\nS1 | 2"


def test_only_tasks_of_the_revision_that_counts() -> None:
    assert_relation(
        "tasks",
        "session_id | task_no | start_s | end_s | kind | flown_by\nS1 | 1 | 5 | 60 | turn | student",
        sessions=SESSIONS,
        stored_tasks=stored(
            "tasks",
            """session_id | revision | task_no | start_s | end_s | kind
               S1         | 1        | 1       | 0       | 60    | level
               S1         | 2        | 1       | 5       | 60    | turn
               S2         | 2        | 1       | 9       | 60    | climb""",
        ),
    )
