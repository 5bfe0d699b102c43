"""Bias, spread, root mean square and time in the band, against closed forms.

Constant error, variable error and RMSE are the terms of the motor-learning literature (McClernon and Miller
2011, Int. J. Aviation Psychology 21(4) 397-412, whose abstract was read, treats RMSE as the two combined);
every number here is a closed form that was recomputed, no source needed.
"""

import math
from collections.abc import Mapping
from statistics import NormalDist
from typing import Any

import pytest

from tests.signals import Signal, evenly, flown, flown_together, moments_of

TENTHS = evenly(600, 10)


def sine(amplitude: float, period_s: float = 30, phase: float = 0.0, bias: float = 0.0) -> Signal:
    return lambda t: bias + amplitude * math.sin(2 * math.pi * t / period_s + phase)


def triangle(amplitude: float, period_s: float = 30) -> Signal:
    def height(t: float) -> float:
        turn = (t / period_s) % 1
        return amplitude * (4 * turn - 1 if turn < 0.5 else 3 - 4 * turn)

    return height


def test_rmse_squared_is_bias_squared_plus_spread_squared_in_population_form() -> None:
    found = moments_of((-20.0, 0.0, 40.0, 60.0, 20.0))
    assert found["mean"] == pytest.approx(20, rel=1e-9)
    assert found["mean_absolute"] == pytest.approx(28, rel=1e-9)
    assert found["spread"] == pytest.approx(28.284271247, rel=1e-9)  # not 31.62278 (n - 1)
    assert found["rms"] == pytest.approx(34.641016151, rel=1e-9)


def test_a_sine_of_whole_periods() -> None:
    shares = {150: 0.46456, 200: 1 / 3, 141.4214: 0.5, 100.0: 1.0}
    together = flown_together([sine(amplitude) for amplitude in shares], TENTHS)
    for (amplitude, share), found in zip(shares.items(), together, strict=True):
        assert_sine(found, amplitude, share)


def assert_sine(found: Mapping[str, Any], amplitude: float, share: float) -> None:
    assert found["altitude_rmse_ft"] == pytest.approx(0.70710678 * amplitude, rel=1e-6)
    assert found["altitude_mae_ft"] == pytest.approx(0.63661977 * amplitude, rel=1e-3)
    assert found["altitude_bias_ft"] == pytest.approx(0, abs=1e-3)
    assert found["in_tolerance"] == pytest.approx(share, abs=1e-3)
    assert found["altitude_hold95_ft"] == pytest.approx(
        amplitude * math.sin(0.95 * math.pi / 2), abs=0.25
    )


def test_a_triangle() -> None:
    found = flown(triangle(150), TENTHS)
    assert found["altitude_rmse_ft"] == pytest.approx(0.57735 * 150, rel=1e-3)
    assert found["altitude_mae_ft"] == pytest.approx(75, rel=1e-3)
    assert found["in_tolerance"] == pytest.approx(100 / 150, abs=1e-6)
    assert found["altitude_hold95_ft"] == pytest.approx(0.95 * 150, abs=1.01)


def test_a_square_wave() -> None:
    found = flown(lambda t: 80.0 if int(t // 10) % 2 else -80.0, evenly(600, 20))
    for figure in ("rmse", "mae", "sd", "max", "hold95"):
        assert found[f"altitude_{figure}_ft"] == pytest.approx(80, rel=1e-4)


def test_a_sine_off_centre() -> None:
    found = flown(sine(100, bias=40), TENTHS)
    assert found["altitude_rmse_ft"] == pytest.approx(81.2404, abs=1e-3)
    assert found["in_tolerance"] == pytest.approx(0.70483, abs=1e-3)
    assert found["altitude_bias_ft"] == pytest.approx(40, abs=1e-3)


def test_a_ramp() -> None:
    found = flown(lambda t: t, evenly(150, 10), tolerance=100)
    assert found["altitude_bias_ft"] == pytest.approx(75, rel=1e-6)
    assert found["altitude_mae_ft"] == pytest.approx(75, rel=1e-6)
    assert found["altitude_rmse_ft"] == pytest.approx(150 / math.sqrt(3), rel=1e-5)
    assert found["altitude_sd_ft"] == pytest.approx(150 / math.sqrt(12), rel=1e-5)
    assert found["altitude_drift_ft_per_min"] == pytest.approx(60, rel=1e-6)
    assert found["in_tolerance"] == pytest.approx(2 / 3, abs=1e-6)


def test_a_correction_at_twice_the_error_per_minute() -> None:
    """Decay with 30 s: the FAA Instrument Flying Handbook's rule, from 200 ft in a band of 100 ft."""
    found = flown(lambda t: 200 * math.exp(-t / 30), evenly(120, 10))
    assert found["out_s"] == pytest.approx(20.794, abs=2e-3)
    assert found["in_tolerance"] == pytest.approx(0.82671, abs=1e-4)
    assert found["altitude_bias_ft"] == pytest.approx(49.0842, abs=1e-3)
    assert found["altitude_rmse_ft"] == pytest.approx(70.6988, abs=1e-2)
    assert (found["excursions"], found["is_longest_lower_bound"]) == (1, True)


@pytest.mark.parametrize(
    ("tolerance", "shares"),
    [
        (100, {(0, 50): 0.95450, (0, 51.021): 0.95, (50, 50): 0.83999, (80, 30): 0.74751}),
        (200, {(0, 102.043): 0.95}),
    ],
)
def test_an_error_that_is_gaussian_over_time(
    tolerance: float, shares: dict[tuple[float, float], float]
) -> None:
    signals = [_gaussian(*shape) for shape in shares]
    together = flown_together(signals, evenly(600, 10), tolerance)
    for share, found in zip(shares.values(), together, strict=True):
        assert found["in_tolerance"] == pytest.approx(share, abs=2e-4)
        if share == 0.95:
            assert found["altitude_hold95_ft"] == pytest.approx(tolerance, abs=0.25)


def test_the_same_rmse_covers_very_different_shares_of_time() -> None:
    """Why bias, spread and containment stand side by side."""
    shares = {(60, 40): 0.8413, (0, 72.11): 0.8345, (70, 17.32): 0.9584}
    together = flown_together([_gaussian(*shape) for shape in shares], evenly(600, 10))
    for share, found in zip(shares.values(), together, strict=True):
        assert found["altitude_rmse_ft"] == pytest.approx(72.11, rel=2e-3)
        assert found["in_tolerance"] == pytest.approx(share, abs=3e-4)


def _gaussian(bias: float, sigma: float) -> Signal:
    """Rises through the quantiles of a normal distribution in 600 s."""
    quantile = NormalDist(bias, sigma).inv_cdf
    return lambda t: quantile(min(max(t / 600, 1e-4), 1 - 1e-4))
