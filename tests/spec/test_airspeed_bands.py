"""airspeed_bins, airspeed_bands: where most of a maneuver's airspeeds lay, and how far off the rest."""

import pytest

from tests.expected import assert_relation
from tests.placed import NONE_PATCHY, patchy, placed
from tests.tables import rows_of

HEAD = "t_ms | step_ms | next_step_ms"


def test_airspeeds_go_to_the_nearest_bin_and_leave_their_distance_from_its_middle() -> None:
    assert_relation(
        "airspeed_bins",
        """maneuver_no | bin_no | weight_ms | off  | off_absolute
           1           | 2000   | 3000      | -10  | 30
           1           | 1800   | 500       | 0    | 0""",
        placed_samples=placed(
            f"{HEAD} | airspeed_kt\n0 | - | 1000 | 100.01\n1000 | 1000 | 1000 | 99.99\n2000 | 500 | - | 90"
        ),
        patchy_channels=NONE_PATCHY,
        patchy_observations=patchy(),
    )


def test_patchy_airspeeds_are_read_from_their_own_observations() -> None:
    rows = rows_of(
        "airspeed_bins",
        placed_samples=placed(f"{HEAD} | airspeed_kt\n0 | 1000 | 1000 | 100"),
        patchy_channels=f"{NONE_PATCHY}\n1 | airspeed",
        patchy_observations=patchy(
            f"{HEAD} | channel:text | value\n0 | - | 7 | airspeed | 90\n0 | - | 9 | heading | 90"
        ),
    )
    assert [(r["bin_no"], r["weight_ms"]) for r in rows] == [(1800, 7)]


@pytest.mark.parametrize(
    ("bins", "median", "mean_absolute", "hold95"),
    [
        ("2000 | 1000 | 0 | 0", 100, 0, 0),
        ("1999 | 1000 | 0 | 0\n2000 | 1000 | 0 | 0", 99.95, 0.025, 0.05),  # of a tie the lower
        ("2000 | 9500 | 95 | 95\n2100 | 500 | 10 | 10", 100, (95 + 2500 + 10) / 10_000, 0),
        ("1900 | 500 | 10 | 10\n2000 | 9400 | 0 | 0\n2010 | 100 | 0 | 0", 100, 0.254, 0.5),
    ],
)
def test_the_band_is_about_the_median(
    bins: str, median: float, mean_absolute: float, hold95: float
) -> None:
    head = "bin_no | weight_ms | off | off_absolute | maneuver_no"
    lines = [f"{line} | 1" for line in bins.splitlines()]
    [row] = rows_of("airspeed_bands", airspeed_bins="\n".join([head, *lines]))
    assert row["median_kt"] == pytest.approx(median)
    assert row["mean_absolute_kt"] == pytest.approx(mean_absolute)
    assert row["hold95_kt"] == pytest.approx(hold95)


def test_without_observed_time_there_is_no_band() -> None:
    head = "maneuver_no | bin_no | weight_ms | off | off_absolute"
    assert rows_of("airspeed_bands", airspeed_bins=f"{head}\n1 | 2000 | 0 | 0 | 0") == []
