"""excursions: how a channel stayed within each standard's tolerance."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.expected import assert_relation
from tests.tables import rows_of

RUNS = "maneuver_id | channel:text | edge | start_s | end_s | is_start_cut | is_end_cut"
INPUTS = {
    "maneuvers": """
        maneuver_id | session_id | revision | target_altitude_ft | target_heading_deg
        M1          | S1         | 1        | 4000               | -""",
    "sessions": "session_id | median_step_s\nS1 | 1",
    "standards": """
        standard_id | channel:text | tolerance
        strict      | altitude     | 100
        strict      | heading      | 10
        mild        | altitude     | 200""",
    "channel_sums": "maneuver_id | channel:text | observed_s\nM1 | altitude | 100\nM1 | heading | 100",
    "slow_channels": "session_id | revision | channel:text | median_step_s",
    "excursion_runs": f"""{RUNS}
        M1 | altitude | 100  | 10 | 15   | no  | no
        M1 | altitude | 100  | 20 | 22   | no  | no
        M1 | altitude | -100 | 30 | 31.5 | no  | yes
        M1 | altitude | 200  | 11 | 12   | no  | no
        M1 | altitude | 400  | 11 | 11.5 | no  | no""",
    "exceed_times": "maneuver_id | channel:text | tolerance | time_to_exceed_s\nM1 | altitude | 100 | 12.5",
}  # fmt: skip


def test_each_standard_counts_its_own_band_and_twice_that() -> None:
    assert_relation(
        "excursions",
        """standard_id | channel:text | in_tolerance | excursions | excursions_2x | excursions_2s | out_s | longest_out_s | is_longest_lower_bound | time_to_exceed_s | excursions_reason
           strict      | altitude     | 0.915        | 3          | 1             | 2             | 8.5   | 5             | no                     | 12.5             | -
           mild        | altitude     | 0.99         | 1          | 1             | 0             | 1     | 1             | no                     | -                | -
           strict      | heading      | -            | -          | -             | -             | -     | -             | -                      | -                | no target heading""",
        **INPUTS,
    )


def test_standards_that_share_a_tolerance_have_its_figures_worked_out_once() -> None:
    standards = f"{INPUTS['standards']}\nalike | altitude | 100"
    given = {**INPUTS, "standards": standards}
    assert_relation(
        "tolerance_excursions",
        """channel:text | tolerance | excursions | excursions_reason
           altitude     | 100       | 3          | -
           altitude     | 200       | 1          | -
           heading      | 10        | -          | no target heading""",
        **given,
    )
    rows = {
        row["standard_id"]: row
        for row in rows_of("excursions", **given)
        if row["channel"] == "altitude"
    }
    assert rows["alike"] == {**rows["strict"], "standard_id": "alike"}


def strict(**changed: str) -> dict[str, Any]:
    rows = rows_of("excursions", **{**INPUTS, **changed})
    [row] = [r for r in rows if (r["standard_id"], r["channel"]) == ("strict", "altitude")]
    return row


def test_without_an_excursion_all_time_is_in_tolerance() -> None:
    row = strict(excursion_runs=RUNS)
    assert (row["in_tolerance"], row["excursions"], row["out_s"]) == (1, 0, 0)
    assert (row["longest_out_s"], row["is_longest_lower_bound"]) == (0, False)


@pytest.mark.parametrize(
    ("runs", "is_bound"),
    [
        ("M1 | altitude | 100 | 10 | 15 | no | yes", True),
        ("M1 | altitude | 100 | 10 | 15 | yes | no", True),
        ("M1 | altitude | 100 | 10 | 15 | no | no", False),
        (
            "M1 | altitude | 100 | 10 | 15 | no | no\nM1 | altitude | 100 | 30 | 34 | yes | no",
            False,
        ),
        (
            "M1 | altitude | 100 | 10 | 15 | no | no\nM1 | altitude | -100 | 30 | 35 | yes | no",
            True,
        ),
        (
            "M1 | altitude | 100 | 10 | 15 | yes | no\nM1 | altitude | -100 | 30 | 35 | no | no",
            True,
        ),
    ],
)
def test_a_longest_excursion_that_was_cut_is_a_lower_bound(runs: str, is_bound: bool) -> None:
    assert strict(excursion_runs=f"{RUNS}\n{runs}")["is_longest_lower_bound"] is is_bound


def test_exactly_two_seconds_are_no_chatter_whatever_the_rounding() -> None:
    runs = f"{RUNS}\nM1 | altitude | 100 | 0.3 | 2.3 | no | no\nM1 | altitude | 100 | 9 | 10.9 | no | no"
    row = strict(excursion_runs=runs)
    assert (row["excursions"], row["excursions_2s"]) == (2, 1)


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"channel_sums": "maneuver_id | channel:text | observed_s"}, "no altitude recorded"),
        ({"channel_sums": "maneuver_id | channel:text | observed_s\nM1 | altitude | -"}, "fewer than two neighbouring samples"),
        ({"maneuvers": INPUTS["maneuvers"].replace("4000", "-")}, "no target altitude"),
        ({"sessions": "session_id | median_step_s\nS1 | 2.001"}, "samples are too far apart to time an excursion"),
        ({"slow_channels": f"{INPUTS['slow_channels']}\nS1 | 1 | altitude | 3"}, "samples are too far apart to time an excursion"),
    ],
)  # fmt: skip
def test_where_nothing_can_be_told_all_is_null_and_says_why(
    changed: dict[str, str], reason: str
) -> None:
    row = strict(**changed)
    assert row["excursions_reason"] == reason
    assert all(row[k] is None for k in ("in_tolerance", "excursions", "out_s", "longest_out_s"))
    assert row["is_longest_lower_bound"] is None


def test_a_step_of_just_two_seconds_is_quick_enough() -> None:
    assert strict(sessions="session_id | median_step_s\nS1 | 2")["excursions"] == 3


def test_a_slow_airspeed_does_not_take_the_altitude_along() -> None:
    slow = f"{INPUTS['slow_channels']}\nS1 | 1 | airspeed | 4"
    assert strict(slow_channels=slow)["excursions"] == 3
