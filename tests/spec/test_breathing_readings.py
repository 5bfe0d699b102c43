"""breathing_readings: how the breathing dies out, and why a hands-off stretch ended."""

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from tests.logs import NO_LIMITS, window, windows
from tests.tables import rows_of

T = np.arange(0, 200.0)


def reading(
    rate: np.ndarray, off_ft: float = 0, end_s: float = 150, seconds: np.ndarray = T
) -> dict[str, Any]:
    means = pa.table(
        {
            "maneuver_id": ["m1"] * len(seconds),
            "second_no": pa.array(seconds.astype(int)),
            "vertical_speed_fpm": rate[seconds.astype(int)],
            "altitude_error_ft": np.full(len(seconds), off_ft),
        }
    )
    stretch = pa.table(
        {"maneuver_id": ["m1"], "stretch_no": [1], "start_s": [0.0], "end_s": [end_s]}
    )
    [row] = rows_of(
        "breathing_readings",
        hands_off_readings=stretch,
        maneuver_windows=windows(window("level", 0, 200)),
        second_means=means,
        own_limits=NO_LIMITS,
    )
    return row


def breathing(damping: float, period_s: float = 29.42, size_fpm: float = 400) -> np.ndarray:
    omega_d = 2 * np.pi / period_s
    decay = damping / np.sqrt(1 - damping**2) * omega_d
    return size_fpm * np.exp(-decay * T) * np.cos(omega_d * T + 0.4)


@pytest.mark.parametrize("damping", [0.0, 0.04, 0.0796])
def test_the_logarithmic_decrement_gives_the_damping(damping: float) -> None:
    """0.0796 and 29.42 s are the phugoid of Nelson's light single (Flight Stability, chapter 4)."""
    assert reading(breathing(damping))["damping_ratio"] == pytest.approx(damping, abs=0.01)


def test_swings_that_grow_have_a_negative_damping() -> None:
    assert reading(breathing(0.04)[::-1].copy())["damping_ratio"] < 0


def test_too_little_breathing_tells_no_damping() -> None:
    assert reading(breathing(0.02, size_fpm=15))["damping_ratio"] is None
    assert reading(breathing(0.02), end_s=40)["damping_ratio"] is None


def test_what_ended_the_stretch() -> None:
    calm = breathing(0.05)
    assert reading(calm, end_s=200)["end_cause"] == "end of the maneuver"
    assert reading(calm, off_ft=40)["end_cause"] == "needless"
    assert reading(calm, off_ft=-140)["end_cause"] == "called for"
    assert reading(calm, seconds=T[(T < 150) | (T > 160)])["end_cause"] == "gap"
