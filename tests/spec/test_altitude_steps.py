"""altitude_steps: how finely altitude was recorded where no vertical speed was."""

from tests.expected import assert_relation, stored
from tests.tables import rows_of

SILENT = "channels    | gap_limit_s\naltitude_ft | 2.5"


def test_the_smallest_change_is_the_step() -> None:
    assert_relation(
        "altitude_steps",
        "session_id | revision | altitude_step_ft\nS1 | 1 | 25",
        stored_samples=stored(
            "samples", "t_ms | altitude_ft\n0 | 4000\n1 | 4050\n2 | -\n3 | 4025\n4 | 4025"
        ),
        stored_sessions=stored("sessions", SILENT),
    )


def test_an_altitude_that_never_moved_has_no_step() -> None:
    assert_relation(
        "altitude_steps",
        "session_id | altitude_step_ft\nS1 | -",
        stored_samples=stored("samples", "t_ms | altitude_ft\n0 | 4000\n1 | 4000"),
        stored_sessions=stored("sessions", SILENT),
    )


def test_a_session_with_logged_vertical_speed_is_left_out() -> None:
    rows = rows_of(
        "altitude_steps",
        stored_samples=stored("samples", "t_ms | altitude_ft\n0 | 4000\n1 | 4025"),
        stored_sessions=stored(
            "sessions",
            "channels                        | gap_limit_s\nvertical_speed_fpm, altitude_ft | 2.5",
        ),
    )
    assert rows == []


def test_steps_are_not_taken_across_revisions() -> None:
    assert_relation(
        "altitude_steps",
        "revision | altitude_step_ft\n1 | 10\n2 | 20",
        stored_samples=stored(
            "samples",
            "revision | t_ms | altitude_ft\n1 | 0 | 4000\n1 | 1 | 4010\n2 | 0 | 4011\n2 | 1 | 4031",
        ),
        stored_sessions=stored(
            "sessions",
            "revision | channels    | gap_limit_s\n1 | altitude_ft | 2.5\n2 | altitude_ft | 2.5",
        ),
    )
