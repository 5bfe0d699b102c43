"""altitude_hold: how the altitude was held, and when nothing can be said."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.expected import assert_relation
from tests.tables import rows_of

MANEUVERS = """
    maneuver_id | session_id | start_s | end_s | target_altitude_ft | target_heading_deg
    M1          | S1         | 10      | 110   | 4000               | 90"""
SUMS = """
    maneuver_id | channel:text | observed_s | mean | spread | rms | mean_absolute | largest | hold95 | drift_per_min | median
    M1          | altitude     | 80         | 30   | 40     | 50  | 45            | 120     | 100    | -6            | 4000"""
NO_GATES = "session_id | gate:text | severity | channel:text"


def hold(**changed: str) -> dict[str, Any]:
    inputs = {"maneuvers": MANEUVERS, "channel_sums": SUMS, "session_gates": NO_GATES}
    [row] = rows_of("altitude_hold", **{**inputs, **changed})
    return row


def test_the_figures_are_those_of_the_channel() -> None:
    assert_relation(
        "altitude_hold",
        """maneuver_id | altitude_bias_ft | altitude_sd_ft | altitude_rmse_ft | altitude_mae_ft | altitude_max_ft | altitude_hold95_ft | altitude_drift_ft_per_min | altitude_observed_s | altitude_hold_reason
           M1          | 30               | 40             | 50               | 45              | 120             | 100                | -6                        | 80                  | -""",
        maneuvers=MANEUVERS,
        channel_sums=SUMS,
        session_gates=NO_GATES,
    )


def test_without_a_target_only_spread_and_drift_are_known() -> None:
    row = hold(maneuvers=MANEUVERS.replace("4000 ", "-    "))
    known = {k for k, v in row.items() if v is not None}
    assert known == {
        "maneuver_id",
        "altitude_sd_ft",
        "altitude_drift_ft_per_min",
        "altitude_observed_s",
        "altitude_hold_reason",
    }
    assert row["altitude_hold_reason"] == "no target altitude"


@pytest.mark.parametrize(
    ("sums", "reason"),
    [
        (SUMS.replace("altitude ", "heading  "), "no altitude recorded"),
        ("\n".join([SUMS.strip().splitlines()[0], "M1 | altitude | - | - | - | - | - | - | - | - | -"]), "fewer than two neighbouring samples"),
    ],
)  # fmt: skip
def test_where_nothing_was_observed_all_is_null_and_says_why(sums: str, reason: str) -> None:
    row = hold(channel_sums=sums)
    assert row["altitude_hold_reason"] == reason
    assert {k for k, v in row.items() if v is not None} == {"maneuver_id", "altitude_hold_reason"}


def test_exactly_the_scored_share_is_enough() -> None:
    assert hold()["altitude_hold_reason"] is None
    less = hold(channel_sums=SUMS.replace("| 80 ", "| 79.9 "))
    assert less["altitude_hold_reason"] == "altitude observed for less than the scored share"
    assert less["altitude_hold95_ft"] == 100  # shown all the same


@pytest.mark.parametrize(
    ("gate", "is_against"),
    [
        ("S1 | frozen | not_scored | altitude_ft", True),
        ("S1 | frozen | suspect    | altitude_ft", False),
        ("S1 | frozen | not_scored | heading_deg", False),
        ("S2 | frozen | not_scored | altitude_ft", False),
    ],
)
def test_a_data_check_against_the_altitude_is_told(gate: str, is_against: bool) -> None:
    row = hold(session_gates=f"{NO_GATES}\n{gate}")
    assert row["altitude_hold_reason"] == ("data check: frozen" if is_against else None)
    assert row["altitude_hold95_ft"] == 100
