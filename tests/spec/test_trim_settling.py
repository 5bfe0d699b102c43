"""trim_settling: the settling of events whose session counts."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation


def test_only_events_of_maneuvers_that_count_are_told() -> None:
    head = "maneuver_id | trim_settle_s | is_settled | trim_set_s | is_set | followed_s | set_followed_s | is_upper_bound | is_set_upper_bound | settling_reason"
    counted = "M1 | 12.5 | yes | - | no | 70 | 60 | no | no | -"
    assert_relation(
        "trim_settling",
        f"{head}\n{counted}",
        maneuvers="maneuver_id\nM1",
        settling_readings=f"{head}\n{counted}\nM2 | - | no | - | no | 70 | 60 | no | no | -",
    )
