"""hands_off: the hands-off stretches of sessions that count."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation

READINGS = """
    maneuver_id | stretch_no | start_s | end_s | wander_ft | period_s | lanchester_period_s
    M1          | 1          | 10      | 70    | 25        | 28       | 23.3
    M1          | 2          | 80      | 140   | 20        | -        | -
    M2          | 1          | 10      | 70    | 25        | 28       | 23.3"""

CALM = "session_id | is_rougher\nS1 | no"


def test_only_stretches_of_maneuvers_that_count_are_told_with_how_they_ended() -> None:
    assert_relation(
        "hands_off",
        """maneuver_id | stretch_no | start_s | end_s | wander_ft | period_s | lanchester_period_s | damping_ratio | damping_se | damping_reason | is_left_alone
           M1          | 1          | 10      | 70    | 25        | 28       | 23.3                | 0.06          | 0.004      | -              | no
           M1          | 2          | 80      | 140   | 20        | -        | -                   | -             | -          | too few        | yes""",
        maneuvers="maneuver_id | session_id\nM1 | S1",
        session_air=CALM,
        hands_off_readings=READINGS,
        breathing_readings="""maneuver_id | stretch_no | damping_ratio | damping_se | damping_reason | end_cause:text
                              M1          | 1          | 0.06          | 0.004      | -              | needless
                              M1          | 2          | -             | -          | too few        | maneuver ended""",
    )


def test_rougher_air_tells_no_damping_since_gusts_keep_the_swings_going() -> None:
    assert_relation(
        "hands_off",
        """maneuver_id | stretch_no | period_s | damping_ratio | damping_se | damping_reason
           M2          | 1          | 28       | -             | -          | rougher air""",
        maneuvers="maneuver_id | session_id\nM2 | S1",
        session_air="session_id | is_rougher\nS1 | yes",
        hands_off_readings=READINGS,
        breathing_readings="""maneuver_id | stretch_no | damping_ratio | damping_se | damping_reason | end_cause:text
                              M2          | 1          | 0.06          | 0.004      | -              | needless""",
    )


def test_a_stretch_without_a_reading_of_its_breathing_is_still_told() -> None:
    assert_relation(
        "hands_off",
        "maneuver_id | stretch_no | damping_ratio | damping_reason | is_left_alone\nM2 | 1 | - | not measured | -",
        maneuvers="maneuver_id | session_id\nM2 | S1",
        session_air=CALM,
        hands_off_readings=READINGS,
        breathing_readings="maneuver_id | stretch_no | damping_ratio | damping_se | damping_reason | end_cause:text",
    )
