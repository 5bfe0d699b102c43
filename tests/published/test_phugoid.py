"""Lanchester's period, and corrections by the handbook's rule.

Lanchester 1908: period = sqrt(2) pi V / g (in all texts on flight dynamics; read in secondary ones, and
recomputed). FAA Instrument Flying Handbook, FAA-H-8083-15A: correct at twice the deviation in feet per
minute, not above 500 (read); what follows from it was recomputed.
"""

import math

import pytest

from tests.signals import evenly, flown
from tests.spec.test_hands_off_readings import stretches
from tests.tables import rows_of

G = 9.80665
KNOT = 1852 / 3600


def test_the_setting_is_the_published_coefficient() -> None:
    [limits] = rows_of("limits")
    assert limits["lanchester_s_per_kt"] == pytest.approx(
        math.sqrt(2) * math.pi * KNOT / G, rel=3e-5
    )
    assert limits["lanchester_s_per_kt"] == 0.23307  # 0.45305 s per m/s, 0.13809 s per ft/s


@pytest.mark.parametrize(
    ("knots", "period_s"),
    [(80, 18.65), (90, 20.98), (100, 23.31), (110, 25.64), (120, 27.97), (140, 32.63)],
)
def test_the_period_at_usual_speeds_at_sea_level(knots: int, period_s: float) -> None:
    [row] = stretches(airspeed=lambda s: knots, altitude=lambda s: -4000)
    assert row["lanchester_period_s"] == pytest.approx(period_s, abs=0.006)


def test_correcting_at_twice_the_error_per_minute_takes_21_s_from_twice_to_once_the_band() -> None:
    """First-order decay with 30 s: halved in 20.794 s, which is where `promptly_s` comes from."""
    found = flown(lambda t: 200 * math.exp(-t / 30), evenly(90, 10))
    assert found["longest_out_s"] == pytest.approx(20.794, abs=2e-3)
    [limits] = rows_of("limits")
    assert found["longest_out_s"] < limits["promptly_s"] == 21


@pytest.mark.parametrize(("band", "seconds"), [(250, 18.0), (100, 45.49)])
def test_with_a_cap_of_500_fpm_a_large_error_takes_longer(band: float, seconds: float) -> None:
    """From 400 ft: straight down to 250 ft in 18 s, then the decay."""

    def error(t: float) -> float:
        return 400 - t * 500 / 60 if t <= 18 else 250 * math.exp(-(t - 18) / 30)

    found = flown(error, evenly(120, 10), tolerance=band)
    assert found["longest_out_s"] == pytest.approx(seconds, abs=6e-3)


@pytest.mark.parametrize(("share", "constants"), [(0.05, 2.9957), (0.02, 3.9120)])
@pytest.mark.parametrize("constant_s", [6, 9, 30])
def test_a_first_order_lag_reaches_95_and_98_percent_when_it_should(
    constant_s: float, share: float, constants: float
) -> None:
    """tau = 6 s: 18.0 and 23.5 s; tau = 9 s: 27.0 and 35.2 s; tau = 30 s: 89.87 and 117.36 s."""
    found = flown(lambda t: 400 * math.exp(-t / constant_s), evenly(130, 10), tolerance=400 * share)
    assert found["longest_out_s"] == pytest.approx(constants * constant_s, abs=5e-3)
