"""Time in a band, crossings, excursions and uneven sampling, against exact values (all recomputed)."""

import math

import numpy as np
import pytest

from tests.signals import evenly, flown
from tests.tables import rows_of


def sine(t: float) -> float:
    """150 ft, 30 s, phase 0.3 rad: in a band of 100 ft for 0.46456 of the time, left 40 times in 600 s."""
    return 150 * math.sin(2 * math.pi * t / 30 + 0.3)


@pytest.mark.parametrize(
    ("hz", "share", "within"), [(0.2, 0.511, 5e-4), (1, 0.4653, 5e-5), (2, 0.4649, 8e-5), (10, 0.4646, 5e-5)]
)  # fmt: skip
def test_crossings_between_samples_find_the_true_share(
    hz: float, share: float, within: float
) -> None:
    """Counting samples instead would give 0.3333, 0.4667, - and 0.4667."""
    found = flown(sine, evenly(600, hz), excursion_step_limit_s=10)
    assert found["in_tolerance"] == pytest.approx(share, abs=within)
    assert found["excursions"] == 40


def test_at_one_sample_in_five_seconds_no_share_is_told() -> None:
    found = flown(sine, evenly(600, 0.2))
    assert (found["in_tolerance"], found["excursions"]) == (None, None)
    assert found["excursions_reason"] == "samples are too far apart to time an excursion"
    assert found["altitude_rmse_ft"] is not None


@pytest.mark.parametrize("hz", [1, 10])
def test_the_trapezoid_of_squares_is_exact_at_any_rate(hz: float) -> None:
    found = flown(sine, evenly(600, hz))
    assert found["altitude_rmse_ft"] == pytest.approx(106.066, abs=5e-4)


def test_uneven_sampling_is_weighed_by_time() -> None:
    """A ramp of 100 s, at 10 Hz for half and 1 Hz after: the mean of the rows would be 29.583, 41 % low."""
    times = [*range(0, 50_000, 100), *range(50_000, 100_001, 1000)]
    assert len(times) == 551
    found = flown(lambda t: t, times)
    assert found["altitude_bias_ft"] == pytest.approx(50, rel=1e-9)
    assert found["altitude_rmse_ft"] == pytest.approx(57.736, abs=5e-4)


@pytest.mark.parametrize(
    ("rate_fpm", "cap_s", "expected"),
    [(100, 60, 36), (-100, 200, 84), (-100, 60, 60), (0, 60, 60)],
)
def test_the_time_to_leave_the_band_is_a_straight_line_from_here(
    rate_fpm: float, cap_s: float, expected: float
) -> None:
    """40 ft high in a band of 100 ft."""
    [row] = rows_of(
        "exceed_times",
        second_means="maneuver_no | second_no | altitude_error_ft | heading_error_deg | airspeed_kt\n"
        f"1 | 0 | {40 - rate_fpm / 12} | - | -\n1 | 5 | 40 | - | -",
        channel_sums="maneuver_id | channel:text | reference\nM1 | altitude | 0",
        maneuver_numbers="maneuver_no | maneuver_id | session_id | revision | gap_limit_ms\n"
        "1 | M1 | S1 | 1 | 1500",
        slow_channels="session_id | revision | channel:text | gap_limit_ms",
        band_edges="channel:text | edge\naltitude | 100\naltitude | -100",
        own_limits=f"name | value\nexceed_cap_s | {cap_s}",
    )
    assert row["time_to_exceed_s"] == pytest.approx(expected, rel=1e-6)


@pytest.mark.slow
def test_a_random_error_leaves_the_band_as_often_as_rice_says() -> None:
    """S. O. Rice 1944/45 (from memory): (rate / 2 pi sigma) exp(-T^2 / 2 sigma^2) per second and side."""
    rng = np.random.default_rng(20260314)
    length_s = 150_000
    t = np.arange(length_s + 1)
    turning = rng.gamma(4, 1, 60)
    turning *= (200 / 60 / 50) / math.sqrt(float((turning**2).mean()))
    waves = np.zeros(len(t))
    for omega, phase in zip(turning, rng.uniform(0, 2 * math.pi, 60), strict=True):
        waves += np.sin(omega * t + phase)
    error = 50 * waves / math.sqrt(30)
    found = flown(lambda s: float(error[round(s)]), [int(x) * 1000 for x in t])
    expected = 2 * 0.0014360 * length_s
    assert found["excursions"] == pytest.approx(expected, rel=0.1)
