"""Headings: mean direction and wrapped differences."""

import math

import pytest

from tests.flights import Log, Task
from tests.signals import figures_of, figures_of_each, own_bands, own_limits


def heading_figures(headings: list[float], target: float) -> dict[str, float]:
    """The heading figures of headings a second apart."""
    times = [1000 * i for i in range(len(headings))]
    values = {"altitude_ft": [4000.0] * len(times), "heading_deg": headings}
    task = Task(0, times[-1] / 1000, target_heading_deg=target)
    return figures_of(Log(times, values, [task]), own_bands(heading=10), own_limits())["heading"]


def mean_heading(directions: list[float], target: float) -> float:
    """Target plus bias of directions that each last as long as the others."""
    held = [d for direction in directions for d in [direction] * 1000]
    return (target + heading_figures(held, target)["heading_bias_deg"]) % 360


def test_headings_about_north_average_to_north() -> None:
    """355 5 2 359 10 350: 0.16769 deg, the value of scipy's own tests; for so small a spread the
    mean of wrapped errors (0.16667) agrees with the circular mean to a thousandth of a degree.
    """
    assert mean_heading([355, 5, 2, 359, 10, 350], target=0) == pytest.approx(0.1677, abs=2e-3)


def test_the_mean_of_wrapped_errors_is_near_the_circular_mean_and_far_from_the_plain_one() -> None:
    """Roulette directions of Mardia and Jupp, Directional Statistics, example 1.1: mean direction 51 deg,
    of which 120.89 deg, the arithmetic mean, says nothing. Errors about that direction, unwrapped the
    short way, average to within the asymmetry of so wide a spread.
    """
    directions = [43, 45, 52, 61, 75, 88, 88, 279, 357]
    x = sum(math.cos(math.radians(d)) for d in directions)
    y = sum(math.sin(math.radians(d)) for d in directions)
    assert math.degrees(math.atan2(y, x)) == pytest.approx(51.0502, abs=1e-4)
    assert math.hypot(x, y) / 9 == pytest.approx(0.711, abs=1e-4)
    # in the order of a turn to the left, so that each step is the short way round
    found = mean_heading([88, 88, 75, 61, 52, 45, 43, 357, 279], target=51)
    assert found == pytest.approx((sum(directions) - 2 * 360) / 9 % 360, abs=0.2)
    assert abs(found - 51.05) < 12 < abs(120.89 - 51.05)


WRAPPED = {
    1: 1,
    179: 179,
    181: -179,
    359: -1,
    360: 0,
    -190: 170,
    720.5: 0.5,
    -541: 179,  # a remainder that keeps the dividend's sign gives -181
    180: 180,  # the tie: half a turn counts as to the right
    -180: 180,
}


def test_a_difference_is_wrapped_whatever_the_input() -> None:
    """All are measured side by side, a session each."""
    times, task = [0, 1000, 2000], Task(0, 2, target_heading_deg=0)
    logs = [
        Log(times, {"altitude_ft": [4000.0] * 3, "heading_deg": [heading] * 3}, [task], f"S{n}")
        for n, heading in enumerate(WRAPPED)
    ]
    found = figures_of_each(logs, own_bands(heading=10), own_limits())
    told = [found[log.session_id]["heading"] for log in logs]
    errors = list(WRAPPED.values())
    assert [f["heading_bias_deg"] for f in told] == pytest.approx(errors, abs=1e-9)
    assert [f["heading_max_deg"] for f in told] == pytest.approx(list(map(abs, errors)), abs=1e-9)


@pytest.mark.parametrize("sigma", [2, 5, 10])
def test_for_small_errors_the_spread_is_the_circular_one(sigma: float) -> None:
    """They differ by less than 1 % up to 10 deg."""
    headings = [(sigma * math.sqrt(2) * math.sin(2 * math.pi * i / 40)) % 360 for i in range(401)]
    found = heading_figures(headings, target=0)["heading_sd_deg"]
    x = sum(math.cos(math.radians(h)) for h in headings[:-1]) / 400
    y = sum(math.sin(math.radians(h)) for h in headings[:-1]) / 400
    circular = math.degrees(math.sqrt(-2 * math.log(math.hypot(x, y))))
    assert found == pytest.approx(circular, rel=0.01)
    assert found == pytest.approx(sigma, rel=0.01)
