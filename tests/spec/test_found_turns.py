"""found_turns: which changes of heading were meant."""

import numpy as np
import pytest

from tests.logs import Formula, log_inputs, ramp, samples
from tests.tables import rows_of


def turns(heading: Formula, hz: float = 1) -> list[dict[str, float]]:
    log = samples(
        300, hz, altitude_ft=lambda t: 3000 + 0 * t, heading_deg=lambda t: heading(t) % 360
    )
    return rows_of("found_turns", **log_inputs(log))


@pytest.mark.parametrize("hz", [1, 4, 20])
def test_a_standard_rate_turn_is_found_across_north(hz: float) -> None:
    [turn] = turns(ramp((100, 345), (115, 390)), hz)
    assert turn["start_no"] == pytest.approx(99, abs=2)
    assert turn["end_no"] == pytest.approx(115, abs=2)
    assert turn["change_deg"] == pytest.approx(45, abs=6)
    assert turn["settled_deg"] % 360 == pytest.approx(30, abs=0.5)


def test_a_left_turn_is_positive_in_its_own_direction() -> None:
    [turn] = turns(ramp((100, 390), (115, 345)))
    assert turn["change_deg"] > 0
    assert turn["settled_deg"] % 360 == pytest.approx(345, abs=0.5)


def test_a_slow_correction_is_no_turn() -> None:
    assert turns(ramp((100, 80), (112, 100))) == []


def test_a_swing_that_comes_back_is_no_turn() -> None:
    assert turns(lambda t: 90 + 25 * np.exp(-(((t - 100) / 8) ** 2))) == []


def test_a_large_change_was_meant_however_slow() -> None:
    [turn] = turns(ramp((100, 90), (160, 180)))
    assert turn["change_deg"] == pytest.approx(90, abs=4)
