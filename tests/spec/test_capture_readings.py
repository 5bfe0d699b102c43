"""capture_readings: how a climb, descent or level-off came to its altitude."""

from typing import Any

import numpy as np
import pytest

from tests.logs import Formula, log_inputs, ramp, samples, window, windows
from tests.tables import rows_of


def reading(altitude: Formula, row: dict[str, Any], hz: float = 4) -> dict[str, Any]:
    log = samples(300, hz, altitude_ft=altitude, heading_deg=lambda t: 90 + 0 * t)
    [found] = rows_of("capture_readings", **{**log_inputs(log), "maneuver_windows": windows(row)})
    return found


def test_a_level_off_led_by_a_tenth_of_the_rate() -> None:
    """FAA Instrument Flying Handbook: at 500 ft/min lead by 50 ft."""
    found = reading(ramp((40, 2500), (94, 2950), (106, 3000)), window("level_off", 94, 200))
    assert found["entry_rate_fpm"] == pytest.approx(500, abs=3)
    assert found["lead_ft"] == pytest.approx(25, abs=20)
    assert found["overshoot_ft"] == pytest.approx(0, abs=1)


def test_a_level_off_forgotten_overshoots_by_what_was_flown_beyond() -> None:
    found = reading(ramp((40, 2500), (115, 3125), (165, 3000)), window("level_off", 100, 200))
    assert found["overshoot_ft"] == pytest.approx(125, abs=2)
    assert found["lead_ft"] < 0
    assert found["capture_s"] == pytest.approx(25, abs=4)


def test_a_descent_overshoots_downwards() -> None:
    found = reading(ramp((40, 3500), (110, 2940), (130, 3000)), window("level_off", 100, 200))
    assert found["entry_rate_fpm"] < -400
    assert found["overshoot_ft"] == pytest.approx(60, abs=2)


def test_a_passage_through_the_band_is_no_capture() -> None:
    found = reading(ramp((95, 2500), (155, 3500), (300, 3500)), window("level_off", 100, 200))
    assert found["capture_s"] is None


def test_a_climb_is_captured_when_it_first_comes_within_the_band() -> None:
    found = reading(ramp((100, 2400), (200, 3000)), window("climb", 100, 200))
    assert found["capture_s"] == pytest.approx(100 * 500 / 600, abs=2)
    assert found["lead_ft"] is None


def test_without_a_target_nothing_is_captured_or_overshot() -> None:
    found = reading(ramp((100, 2400), (200, 3000)), window("climb", 100, 200, altitude_ft=None))
    assert found["has_error"] is False
    assert found["capture_s"] is None
    assert found["overshoot_ft"] is None


def test_without_a_vertical_speed_the_way_is_unknown_and_so_is_the_overshoot() -> None:
    """Altitude in steps of 100 ft: no vertical speed can be derived."""
    found = reading(
        lambda t: np.round((3000 + 400 * np.sin(t / 20)) / 100) * 100, window("level_off", 100, 200)
    )
    assert found["entry_rate_fpm"] is None
    assert found["overshoot_ft"] is None
