"""samples: those of the revision that counts, with times in seconds."""

from tests.expected import assert_relation, stored


def test_only_samples_of_the_revision_that_counts_with_times_in_seconds() -> None:
    assert_relation(
        "samples",
        """session_id | t_s  | altitude_ft | airspeed_kt
           S1         | 0    | 4000        | -
           S1         | 0.25 | 4001        | 100""",
        sessions="session_id | revision\nS1 | 2",
        stored_samples=stored(
            "samples",
            """session_id | revision | t_ms | altitude_ft | airspeed_kt
               S1         | 1        | 0    | 9000        | 99
               S1         | 2        | 0    | 4000        | -
               S1         | 2        | 250  | 4001        | 100
               S2         | 2        | 0    | 9000        | 99""",
        ),
    )
