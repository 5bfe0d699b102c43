"""Declination against the published test values of the World Magnetic Model.

Source: NOAA and the British Geological Survey, "Test Values for WMM2025" and "Test Values for
WMM2020" (declination in degrees, given to 0.01). Magnetic heading = true heading - declination,
east positive.
"""

from datetime import date

import numpy as np
import pytest

from pipeline.land.profiles.north import decimal_year, declination_deg, declinations_deg

WMM2025 = [
    (2025.0, 0, 80, 0, 1.28),
    (2025.0, 0, 0, 120, -0.16),
    (2025.0, 0, -80, 240, 68.78),
    (2025.0, 100, 80, 0, 0.85),
    (2025.0, 100, 0, 120, -0.15),
    (2025.0, 100, -80, 240, 68.21),
    (2027.5, 0, 80, 0, 2.59),
    (2027.5, 0, 0, 120, -0.24),
    (2027.5, 0, -80, 240, 68.49),
    (2027.5, 100, 80, 0, 2.16),
    (2027.5, 100, 0, 120, -0.23),
]
WMM2020 = [
    (2020.0, 0, 80, 0, -1.28),
    (2020.0, 0, 0, 120, 0.16),
    (2020.0, 0, -80, 240, 69.36),
    (2022.5, 0, 80, 0, 0.01),
    (2022.5, 0, 0, 120, -0.06),
    (2022.5, 0, -80, 240, 69.13),
]


@pytest.mark.parametrize(("year", "km", "latitude", "longitude", "published"), WMM2025 + WMM2020)
def test_declination_is_as_published(
    year: float, km: float, latitude: float, longitude: float, published: float
) -> None:
    found = declination_deg(latitude, longitude, year, km)
    assert found == pytest.approx(published, abs=0.006)


def test_the_year_2025_belongs_to_the_new_model_and_the_day_before_to_the_old_one() -> None:
    """At 80 N 0 E the two models' first values differ in sign alone: +1.28 and -1.28."""
    assert declination_deg(80, 0, decimal_year(date(2020, 1, 1))) == pytest.approx(-1.28, abs=0.006)
    assert declination_deg(80, 0, decimal_year(date(2025, 1, 1))) == pytest.approx(1.28, abs=0.006)
    before = declination_deg(80, 0, decimal_year(date(2024, 12, 31)))
    assert before == pytest.approx(1.3, abs=0.2)


def test_a_track_is_as_good_as_the_model_at_each_of_its_points() -> None:
    latitude = np.linspace(59.7, 61.2, 40)
    longitude = np.linspace(9.6, 12.1, 40)
    day = date(2026, 3, 14)
    found = declinations_deg(latitude, longitude, day)
    for index in range(0, 40, 7):
        exact = declination_deg(latitude[index], longitude[index], decimal_year(day))
        assert found[index] == pytest.approx(exact, abs=0.01)


def test_positions_across_the_date_line_and_gaps_are_bridged() -> None:
    latitude = np.array([-17.0, np.nan, -17.0, 95.0])
    longitude = np.array([179.9, np.nan, -179.9, 0.0])
    found = declinations_deg(latitude, longitude, date(2026, 3, 14))
    assert np.ptp(found) < 0.3
    assert found[1] == pytest.approx((found[0] + found[2]) / 2)


def test_no_model_no_place_and_no_direction_are_said() -> None:
    with pytest.raises(ValueError, match="run from 2015 to 2030, not to 2031"):
        declination_deg(50, 10, 2031.2)
    with pytest.raises(ValueError, match="a compass points nowhere"):
        declination_deg(85.7, 139.3, 2025.0)
    with pytest.raises(ValueError, match="no row has a position"):
        declinations_deg(np.array([np.nan]), np.array([1.0]), date(2026, 3, 14))
