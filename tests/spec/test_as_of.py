"""as_of: the date that lists are told for, unless another is asked for."""

from tests.expected import assert_relation, stored


def test_it_is_the_date_of_the_latest_session() -> None:
    assert_relation(
        "as_of",
        "as_of_date\n2026-03-14",
        stored_sessions=stored(
            "sessions", "session_id | session_date\nS1 | 2026-03-14\nS2 | 2026-02-28"
        ),
    )


def test_without_sessions_there_is_no_date() -> None:
    assert_relation("as_of", "as_of_date\n-", stored_sessions=stored("sessions"))
