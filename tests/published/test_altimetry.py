"""Pressure altitude and altimeter settings against the tables of 14 CFR Part 43, Appendix E.

Table I lists the pressure of an altitude, Table IV the altitude difference of a setting; both follow
the U.S. Standard Atmosphere 1976 (ICAO Doc 7488).
"""

import numpy as np
import pytest

from pipeline.land.profiles.altimeter import (
    held_settings,
    pressure_altitude_ft,
    setting_difference_ft,
)
from pipeline.land.profiles.units import factor_to

TABLE_I = {
    -1000: 31.018,
    0: 29.921,
    500: 29.385,
    1000: 28.856,
    1500: 28.335,
    2000: 27.821,
    3000: 26.817,
    4000: 25.842,
    6000: 23.978,
    8000: 22.225,
    10000: 20.577,
    12000: 19.029,
    14000: 17.577,
    16000: 16.216,
    18000: 14.942,
    20000: 13.750,
}
TABLE_IV = {
    28.10: -1727,
    28.50: -1340,
    29.00: -863,
    29.50: -392,
    29.92: 0,
    30.50: 531,
    30.90: 893,
    30.99: 974,
}
HPA_PER_INHG = factor_to("inHg", "hPa")


@pytest.mark.parametrize(("altitude_ft", "inhg"), TABLE_I.items())
def test_pressure_altitude_is_that_of_table_i(altitude_ft: float, inhg: float) -> None:
    found = pressure_altitude_ft(np.array([inhg * HPA_PER_INHG]))[0]
    # The table gives pressure to 0.001 inHg, which is 1 ft at sea level and 2 ft at 20,000 ft.
    assert found == pytest.approx(altitude_ft, abs=1.5)


@pytest.mark.parametrize(("inhg", "difference_ft"), TABLE_IV.items())
def test_a_setting_shifts_the_altitude_as_in_table_iv(inhg: float, difference_ft: float) -> None:
    found = setting_difference_ft(np.array([inhg * HPA_PER_INHG]))[0]
    assert found == pytest.approx(difference_ft, abs=1.3)


def test_a_hectopascal_is_27_feet_near_sea_level() -> None:
    """27.3 ft per hPa and 925 ft per inHg follow from the same atmosphere."""
    one_hpa = np.diff(setting_difference_ft(np.array([1012.75, 1013.75])))[0]
    assert one_hpa == pytest.approx(27.3, abs=0.05)
    one_inhg = np.diff(setting_difference_ft(np.array([29.42, 30.42]) * HPA_PER_INHG))[0]
    assert one_inhg == pytest.approx(925, abs=1)


def test_units_are_those_of_icao_annex_5_and_nist() -> None:
    """1 ft = 0.3048 m, 1 kt = 1852/3600 m/s, 1 inHg = 3386.389 Pa (NIST SP 811)."""
    assert factor_to("m", "ft") == pytest.approx(1 / 0.3048, rel=1e-12)
    assert factor_to("m/s", "kt") == pytest.approx(3600 / 1852, rel=1e-12)
    assert factor_to("km/h", "kt") == pytest.approx(1 / 1.852, rel=1e-12)
    assert factor_to("m/s", "ft/min") == pytest.approx(196.8503937, rel=1e-9)
    assert factor_to("kt", "ft/min") == pytest.approx(101.2686, rel=1e-6)
    assert pytest.approx(33.86389, rel=1e-6) == HPA_PER_INHG
    assert factor_to("rad", "deg") == pytest.approx(57.29577951308232, rel=1e-14)
    assert factor_to("percent", "travel") == 0.01


def test_a_setting_holds_until_the_next_one_and_impossible_ones_count_as_not_told() -> None:
    told = np.array([np.nan, 1003.0, np.nan, 0.0, 1013.25, 29.92])
    held = held_settings(told)
    assert held.tolist() == [1003.0, 1003.0, 1003.0, 1003.0, 1013.25, 1013.25]
    assert np.isnan(held_settings(np.array([0.0, np.nan]))).all()
