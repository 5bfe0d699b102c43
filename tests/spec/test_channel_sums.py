"""channel_sums: mean, spread, containment and drift from the bins."""

from typing import Any

import pytest

from tests.tables import build_over, rows_of

HEAD = "maneuver_id | channel:text | value | since_start_s | weight_s"


def sums(channel: str, points: str, **inputs: str) -> dict[str, Any]:
    """The one row from points written `value weight`, a second apart."""
    lines = [p.split() for p in points.split(",")]
    observed = "\n".join(f"M1 | {channel} | {v} | {i} | {w}" for i, (v, w) in enumerate(lines))
    [row] = rows_of("channel_sums", observations=f"{HEAD}\n{observed}", **inputs)
    return row


def test_five_errors_of_equal_weight() -> None:
    row = sums("altitude", "-20 1, 0 1, 40 1, 60 1, 20 1")
    assert (row["sample_count"], row["observed_s"], row["reference"]) == (5, 5, 0)
    assert row["mean"] == pytest.approx(20)
    assert row["mean_absolute"] == pytest.approx(28)
    assert row["spread"] == pytest.approx(800**0.5)
    assert row["rms"] == pytest.approx(1200**0.5)
    assert row["largest"] == 60
    # slope of -20 0 40 60 20 over 0..4: (-2x-20 + -1x0 + 1x60 + 2x20) / 10 = 14 per second
    assert row["drift_per_min"] == pytest.approx(14 * 60)


def test_weights_are_seconds_not_rows() -> None:
    row = sums("altitude", "0 9, 100 1")
    assert (row["mean"], row["observed_s"]) == (pytest.approx(10), 10)
    assert row["spread"] == pytest.approx(30)


@pytest.mark.parametrize(
    ("points", "hold95"),
    [
        ("10 95, 200 5", 10),  # exactly 95 % is enough
        ("10 94.9, 200 5.1", 200),
        ("-10 50, 10 45, 200 5", 10),  # both sides count
        ("10.1 95, 200 5", 10),  # resolved to a quarter of a foot
        ("10.2 95, 200 5", 10.25),
        ("0 1, 0 1", 0),
    ],
)
def test_hold95_is_the_smallest_band_with_95_percent_of_the_time(
    points: str, hold95: float
) -> None:
    assert sums("altitude", points)["hold95"] == hold95


def test_the_share_that_must_be_held_is_a_setting() -> None:
    own = "name | value\nhold_share | 0.5"
    assert sums("altitude", "10 50, 200 50", own_limits=own)["hold95"] == 10


def test_airspeed_is_judged_about_its_median() -> None:
    row = sums("airspeed", "90 1, 100 3, 130 1")
    assert (row["reference"], row["median"]) == (100, 100)
    assert row["mean"] == pytest.approx(4)
    assert row["mean_absolute"] == pytest.approx(8)
    assert row["largest"] == 30
    assert row["hold95"] == 30


def test_the_median_of_a_tie_is_the_lower() -> None:
    assert sums("airspeed", "90 0.1, 91 0.2, 100 0.3")["median"] == 91


def test_airspeeds_within_the_medians_own_bin_still_count_as_off() -> None:
    row = sums("airspeed", "99.99 1, 100.01 1")
    assert row["mean_absolute"] == pytest.approx(0.01)


def test_a_lone_sample_tells_nothing_but_that_it_was_there() -> None:
    row = sums("altitude", "50 0")
    known = {k for k, v in row.items() if v is not None}
    assert known == {"maneuver_id", "channel", "sample_count"}


def test_a_lone_sample_beside_observed_time_counts_for_the_largest_only() -> None:
    row = sums("altitude", "10 5, 10 5, 300 0")
    assert (row["mean"], row["spread"], row["largest"]) == (pytest.approx(10), 0, 300)


def test_two_moments_at_one_time_have_no_drift() -> None:
    con = build_over(
        ["channel_sums"],
        observations=f"{HEAD}\nM1 | altitude | 1 | 2 | 1\nM1 | altitude | 3 | 2 | 1",
    )
    assert con.sql("SELECT drift_per_min FROM channel_sums").fetchall() == [(None,)]


def test_a_large_offset_loses_no_digits() -> None:
    row = sums("altitude", "10000000.1 1, 10000000.3 1, 10000000.1 1, 10000000.3 1")
    assert row["spread"] == pytest.approx(0.1, rel=1e-7)
