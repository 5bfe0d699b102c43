"""steadiness: vertical speed, movements of the control and of the trim."""

from typing import Any

import pyarrow as pa

from tests.expected import stored
from tests.tables import rows_of


def sessions(channels: str) -> pa.Table:
    return stored("sessions", f"channels | gap_limit_s\n{channels} | 2.5")


INPUTS: dict[str, str | pa.Table] = {
    "maneuvers": "maneuver_id | session_id\nM1 | S1",
    "sessions": sessions("vertical_speed_fpm, altitude_ft"),
    "channel_sums": """
        maneuver_id | channel:text   | observed_s | spread | rms
        M1          | vertical_speed | 100        | 90     | 150
        M1          | pitch_control  | 100        | 0.04   | 0.1""",
    "excursion_runs": """
        maneuver_id | channel:text   | edge | start_s | end_s
        M1          | vertical_speed | 100  | 0       | 20
        M1          | vertical_speed | -100 | 30      | 35
        M1          | altitude       | 100  | 0       | 50""",
    "control_turns": """
        maneuver_id | input:text    | turns | seconds
        M1          | pitch_control | 30    | 100
        M1          | pitch_trim    | 0     | 100""",
    "trim_moves": """
        maneuver_id | move_no | change
        M1          | 1       | 0.1
        M1          | 2       | 0.1
        M1          | 3       | -0.2
        M1          | 4       | 0.05""",
}  # fmt: skip


def steadiness(**changed: str | pa.Table) -> dict[str, Any]:
    [row] = rows_of("steadiness", **{**INPUTS, **changed})
    return row


def test_each_figure_comes_from_its_reading() -> None:
    assert steadiness() == {
        "maneuver_id": "M1",
        "vertical_speed_rms_fpm": 150,
        "near_zero_vs": 0.75,
        "control_reversals_per_min": 18,
        "control_sd": 0.04,
        "trim_inputs": 4,
        "trim_reversals": 2,
        "is_vertical_speed_derived": False,
        "steadiness_reason": None,
    }


def test_a_trim_that_was_logged_and_never_moved_is_zero_inputs() -> None:
    row = steadiness(trim_moves="maneuver_id | move_no | change")
    assert (row["trim_inputs"], row["trim_reversals"]) == (0, 0)


def test_what_was_not_logged_is_null_and_says_so() -> None:
    row = steadiness(
        channel_sums="maneuver_id | channel:text | observed_s | spread | rms",
        control_turns="maneuver_id | input:text | turns | seconds",
        trim_moves="maneuver_id | move_no | change",
        sessions=sessions("altitude_ft"),
    )
    reason = row.pop("steadiness_reason")
    assert {k for k, v in row.items() if v is not None} == {"maneuver_id"}
    assert reason == (
        "vertical speed not logged, altitude too coarse or too seldom to derive it; "
        "pitch control not logged; pitch trim not logged"
    )


def test_a_logged_vertical_speed_that_was_never_observed_says_that() -> None:
    sums = "maneuver_id | channel:text | observed_s | spread | rms\nM1 | vertical_speed | - | - | -"
    row = steadiness(channel_sums=sums)
    assert (row["near_zero_vs"], row["vertical_speed_rms_fpm"]) == (None, None)
    assert row["steadiness_reason"] == "vertical speed not observed"


def test_a_derived_vertical_speed_is_marked() -> None:
    assert steadiness(sessions=sessions("altitude_ft"))["is_vertical_speed_derived"] is True


def test_always_climbing_is_never_near_zero() -> None:
    runs = (
        "maneuver_id | channel:text | edge | start_s | end_s\nM1 | vertical_speed | 100 | 0 | 100"
    )
    assert steadiness(excursion_runs=runs)["near_zero_vs"] == 0
