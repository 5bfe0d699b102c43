"""Mean, spread and slope against NIST's Statistical Reference Datasets (itl.nist.gov/div898/strd).

Values and certified results are NIST's, read in several copies and recomputed. At least eight digits are
asked of the spread and twelve of a slope; sums of squares of raw values would leave none on NumAcc4.
"""

import math

import pytest

from tests.published.nist_data import LEW, LOTTERY, MAVRO, MICHELSO, NORRIS_X, NORRIS_Y
from tests.signals import moments_of

NUMACC = {
    "NumAcc1": (10000001.0, 10000003.0, 10000002.0),
    "NumAcc2": (1.2, *((1.1, 1.3) * 500)),
    "NumAcc3": (1000000.2, *((1000000.1, 1000000.3) * 500)),
    "NumAcc4": (10000000.2, *((10000000.1, 10000000.3) * 500)),
}


def digits(found: float, certified: float) -> float:
    """How many digits agree (log relative error)."""
    return 15.0 if found == certified else -math.log10(abs(found - certified) / abs(certified))


@pytest.mark.parametrize(
    ("values", "mean", "spread"),
    [
        (NUMACC["NumAcc1"], 10000002, 1),
        (NUMACC["NumAcc2"], 1.2, 0.1),
        (NUMACC["NumAcc3"], 1000000.2, 0.1),
        (NUMACC["NumAcc4"], 10000000.2, 0.1),
        (MICHELSO, 299.8524, 0.0790105478190518),
        (MAVRO, 2.001856, 0.000429123454003053),
        (LOTTERY, 518.958715596330, 291.699727470969),
        (LEW, -177.435, 277.332168044316),
    ],
    ids=["NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4", "Michelso", "Mavro", "Lottery", "Lew"],
)
def test_mean_and_spread_keep_their_digits(
    values: tuple[float, ...], mean: float, spread: float
) -> None:
    found = moments_of(values)
    n = len(values)
    assert found["sample_count"] == n
    assert digits(found["mean"], mean) >= 13
    assert digits(found["spread"] * math.sqrt(n / (n - 1)), spread) >= 8


def test_the_slope_keeps_its_digits() -> None:
    found = moments_of(NORRIS_Y, NORRIS_X)
    assert digits(found["drift_per_min"] / 60, 1.00211681802045) >= 12
