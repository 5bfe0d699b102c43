"""maneuver_states: what the log says of a maneuver's seconds."""

from tests.expected import assert_relation

SECONDS = "maneuver_id | second_no | is_autopilot_on | is_on_ground | airspeed_kt | power"


def test_a_switch_that_was_on_for_a_second_was_on() -> None:
    assert_relation(
        "maneuver_states",
        """maneuver_id | seconds | is_autopilot_on | is_on_ground | airspeed_kt | power
           M1          | 3       | yes             | no           | 100         | 0.5
           M2          | 1       | -               | -            | -           | -
           M3          | 0       | -               | -            | -           | -""",
        maneuver_windows="maneuver_id\nM1\nM2\nM3",
        second_means=f"""{SECONDS}
                         M1 | 1 | no  | no | 90  | 0.5
                         M1 | 2 | yes | -  | 110 | -
                         M1 | 3 | -   | no | -   | -
                         M2 | 1 | -   | -  | -   | -""",
    )
