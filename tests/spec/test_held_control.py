"""held_control: what was held in level flight that trim should carry."""

# ruff: noqa: E501 (tables in text are wide)

from typing import Any

import pytest

from tests.tables import rows_of

INPUTS = {
    "maneuvers": """
        maneuver_id | session_id | kind  | start_s | end_s
        M1          | S1         | level | 0       | 100""",
    "sessions": """
        session_id | device_id | session_date | control
        S1         | D1        | 2026-03-01   | centring""",
    "session_gates": "session_id | gate:text | severity | channel:text",
    "channel_sums": """
        maneuver_id | channel:text  | observed_s | mean
        M1          | pitch_control | 80         | 0.08
        M1          | pitch_force   | 80         | -12""",
    "device_neutrals": """
        device_id | session_date | pitch_neutral | neutral_reason
        D1        | 2026-03-01   | 0.02          | -""",
}


def held(**changed: str) -> dict[str, Any]:
    [row] = rows_of("held_control", **{**INPUTS, **changed})
    return row


def test_a_steady_pull_is_the_mean_control_less_the_neutral() -> None:
    row = held()
    assert row["held_control"] == pytest.approx(0.06)
    assert (row["is_untrimmed"], row["held_control_reason"]) == (True, None)
    assert row["held_force_n"] == -12


@pytest.mark.parametrize(
    ("mean", "is_untrimmed"),
    [("0.0699", False), ("0.0701", True), ("-0.0299", False), ("-0.0301", True)],
)
def test_beyond_a_twentieth_of_travel_either_way_is_untrimmed(
    mean: str, is_untrimmed: bool
) -> None:
    sums = INPUTS["channel_sums"].replace("0.08", mean)
    assert held(channel_sums=sums)["is_untrimmed"] is is_untrimmed


def test_exactly_the_limit_is_trimmed() -> None:
    own = "name | value\nuntrimmed_limit | 0.0625"
    sums = INPUTS["channel_sums"].replace("0.08", "0.0625")
    neutral = INPUTS["device_neutrals"].replace("0.02", "0.00")
    assert held(channel_sums=sums, device_neutrals=neutral, own_limits=own)["is_untrimmed"] is False


def test_a_free_control_is_judged_by_its_force() -> None:
    free = INPUTS["sessions"].replace("centring", "free")
    row = held(sessions=free)
    assert (row["held_control"], row["held_force_n"], row["is_untrimmed"]) == (None, -12, True)
    light = INPUTS["channel_sums"].replace("-12", "-10")
    assert held(sessions=free, channel_sums=light)["is_untrimmed"] is False


NO_FORCE = INPUTS["channel_sums"].replace("pitch_force", "bank       ")
NO_CONTROL = INPUTS["channel_sums"].replace("pitch_control", "bank         ")


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"sessions": INPUTS["sessions"].replace("centring", "free"), "channel_sums": NO_FORCE}, "a free control shows no force and none was logged"),
        ({"channel_sums": NO_CONTROL}, "pitch control not logged"),
        ({"sessions": INPUTS["sessions"].replace("D1", "- ")}, "device not named"),
        ({"device_neutrals": "device_id | session_date | pitch_neutral | neutral_reason"}, "no neutral: device not seen"),
        ({"device_neutrals": INPUTS["device_neutrals"].replace("0.02          | -", "- | too few")}, "no neutral: too few"),
    ],
)  # fmt: skip
def test_where_nothing_can_be_known_it_says_why(changed: dict[str, str], reason: str) -> None:
    row = held(**changed)
    assert (row["held_control"], row["is_untrimmed"]) == (None, None)
    assert row["held_control_reason"] == reason


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"channel_sums": INPUTS["channel_sums"].replace("80         | 0", "79.9       | 0")}, "pitch control observed for less than the scored share"),
        ({"session_gates": f"{INPUTS['session_gates']}\nS1 | frozen | not_scored | pitch_control"}, "data check: frozen"),
    ],
)  # fmt: skip
def test_a_doubtful_control_is_shown_but_not_judged(changed: dict[str, str], reason: str) -> None:
    row = held(**changed)
    assert row["held_control"] == pytest.approx(0.06)
    assert (row["is_untrimmed"], row["held_control_reason"]) == (None, reason)


def test_a_check_against_another_channel_does_not_touch_it() -> None:
    gates = f"{INPUTS['session_gates']}\nS1 | frozen | not_scored | pitch_force"
    assert held(session_gates=gates)["is_untrimmed"] is True


def test_only_level_maneuvers_have_a_row() -> None:
    turn = INPUTS["maneuvers"].replace("level", "turn ")
    assert rows_of("held_control", **{**INPUTS, "maneuvers": turn}) == []
