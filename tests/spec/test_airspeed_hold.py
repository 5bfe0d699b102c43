"""airspeed_hold: the airspeed about the maneuver's own median; no target is needed."""

# ruff: noqa: E501 (tables in text are wide)

from tests.expected import assert_relation
from tests.tables import rows_of

MANEUVERS = """
    maneuver_id | session_id | start_s | end_s
    M1          | S1         | 10      | 110
    M2          | S2         | 10      | 110
    M3          | S3         | 10      | 110
    M4          | S4         | 10      | 110"""
SUMS = """
    maneuver_id | channel:text | observed_s | mean | spread | rms | mean_absolute | largest | hold95 | drift_per_min | median
    M1          | airspeed     | 100        | 1    | 4      | 4.2 | 3             | 12      | 8      | 2             | 101
    M2          | airspeed     | 50         | 1    | 4      | 4.2 | 3             | 12      | 8      | 2             | 101
    M3          | airspeed     | -          | -    | -      | -   | -             | -       | -      | -             | -"""
GATES = """
    session_id | gate:text | severity   | channel:text
    S1         | frozen    | not_scored | altitude_ft"""


def test_the_figures_are_those_of_the_channel_with_its_median() -> None:
    assert_relation(
        "airspeed_hold",
        """maneuver_id | airspeed_bias_kt | airspeed_sd_kt | airspeed_rmse_kt | airspeed_mae_kt | airspeed_max_kt | airspeed_hold95_kt | airspeed_drift_kt_per_min | airspeed_median_kt | airspeed_hold_reason
           M1          | 1                | 4              | 4.2              | 3               | 12              | 8                  | 2                         | 101                | -
           M2          | 1                | 4              | 4.2              | 3               | 12              | 8                  | 2                         | 101                | airspeed observed for less than the scored share
           M3          | -                | -              | -                | -               | -               | -                  | -                         | -                  | fewer than two neighbouring samples
           M4          | -                | -              | -                | -               | -               | -                  | -                         | -                  | no airspeed recorded""",
        maneuvers=MANEUVERS,
        channel_sums=SUMS,
        session_gates=GATES,
    )


def test_a_data_check_against_the_airspeed_is_told() -> None:
    gates = f"{GATES}\nS1 | frozen | not_scored | airspeed_kt"
    rows = rows_of("airspeed_hold", maneuvers=MANEUVERS, channel_sums=SUMS, session_gates=gates)
    reasons = {r["maneuver_id"]: r["airspeed_hold_reason"] for r in rows}
    assert reasons["M1"] == "data check: frozen"
