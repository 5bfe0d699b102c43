"""What pages say of states, checks and channels."""

import pytest

from pipeline.pages.meanings import BETWEEN, GATE_WORDS, STATES, channel_words, in_words


def test_a_data_check_within_a_reason_is_told_in_words() -> None:
    told = in_words("2 sessions: data check: altimeter_step; 1 session: data check: frozen")
    assert told == f"2 sessions: data check: {GATE_WORDS['altimeter_step']}; " + (
        f"1 session: data check: {GATE_WORDS['frozen']}"
    )
    assert in_words("data check: unheard_of") == "data check: unheard_of"
    assert in_words("rougher air (rough)") == "rougher air (rough)"


@pytest.mark.parametrize(
    ("channel", "told"),
    [
        ("heading_deg", "heading"),
        ("vertical_speed_fpm", "vertical speed"),
        ("pitch_control", "pitch control"),
        (None, "the whole log"),
    ],
)
def test_a_channel_is_told_without_unit_and_underscore(channel: str | None, told: str) -> None:
    assert channel_words(channel) == told


def test_states_that_no_other_list_tells_are_states() -> None:
    assert set(BETWEEN) < {state.name for state in STATES}
