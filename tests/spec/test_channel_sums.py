"""channel_sums: mean, spread, containment and drift of each channel over a maneuver."""

from typing import Any

import pytest

from tests.placed import NONE_PATCHY, NUMBERS, patchy, placed
from tests.tables import build_over, rows_of

OWN = {"placed_samples": placed(), "patchy_observations": patchy(), "maneuver_numbers": NUMBERS}
COLUMNS = {"altitude": "altitude_error_ft", "heading": "heading_error_deg"}


def weighed(column: str, points: str) -> str:
    """Points written `value weight` (s), a second apart: half of the weight on either side's step."""
    lines = [p.split() for p in points.split(",")]
    rows = [
        f"{1000 * i} | {1000 * float(w):.0f} | {1000 * float(w):.0f} | {v}"
        for i, (v, w) in enumerate(lines)
    ]
    return "\n".join([f"t_ms | step_ms | next_step_ms | {column}", *rows])


def sums(channel: str, points: str, **inputs: str) -> dict[str, Any]:
    """The one row, the same whether the channel's cells are all filled or it is patchy."""
    text = weighed({"airspeed": "airspeed_kt"}.get(channel) or COLUMNS[channel], points)
    [whole] = rows_of(
        "channel_sums",
        **{**OWN, "placed_samples": placed(text)},
        patchy_channels=NONE_PATCHY,
        **inputs,
    )
    rows = text.replace(text.splitlines()[0], "t_ms | step_ms | next_step_ms | value")
    lines = [f"{line} | {channel}" for line in rows.splitlines()[1:]]
    observed = "\n".join(["t_ms | step_ms | next_step_ms | value | channel:text", *lines])
    [apart] = rows_of(
        "channel_sums",
        **{**OWN, "placed_samples": placed(text), "patchy_observations": patchy(observed)},
        patchy_channels=f"{NONE_PATCHY}\n1 | {channel}",
        **inputs,
    )
    for name, value in whole.items():
        is_number = isinstance(value, float)
        assert apart[name] == (pytest.approx(value, rel=1e-9, abs=1e-5) if is_number else value)
    return whole


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
        ("0.125 1, -0.125 1", 0.25),  # halfway goes away from zero
        ("0 1, 0 1", 0),
        ("15.75 50, 16 44, 17 6", 17),  # the share is reached in the next cell of 64 steps
        ("15.75 50, 16 45, 17 5", 16),
    ],
)
def test_hold95_is_the_smallest_band_with_95_percent_of_the_time(
    points: str, hold95: float
) -> None:
    assert sums("altitude", points)["hold95"] == hold95


def test_headings_are_held_in_steps_of_a_twentieth_of_a_degree() -> None:
    assert sums("heading", "1.02 95, -30 5")["hold95"] == pytest.approx(1)


def test_the_share_that_must_be_held_and_the_steps_are_settings() -> None:
    own = "name | value\nhold_share | 0.5\naltitude_bin_ft | 4"
    assert sums("altitude", "10 50, 200 50", own_limits=own)["hold95"] == 12


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
    for channel in ("altitude", "airspeed"):
        row = sums(channel, "50 0")
        known = {k for k, v in row.items() if v is not None}
        assert known == {"maneuver_id", "channel", "sample_count"}


def test_a_lone_sample_beside_observed_time_counts_for_the_largest_only() -> None:
    row = sums("altitude", "10 5, 10 5, 300 0")
    assert (row["mean"], row["largest"]) == (pytest.approx(10), 300)
    assert row["spread"] == pytest.approx(
        0, abs=1e-5
    )  # ft; the centre lies where the lone one pulls it


def test_observed_time_at_one_moment_alone_has_no_drift() -> None:
    assert sums("altitude", "1 1, 3 0")["drift_per_min"] is None


@pytest.mark.parametrize("points", ["1.1 1, 3.3 1, 2.2 1", "0.1 0.1, 0.2 0.3, 0.7 0.2"])
def test_a_large_offset_loses_no_digits(points: str) -> None:
    far = ", ".join(f"{1e7 + float(v)} {w}" for v, w in (p.split() for p in points.split(",")))
    assert sums("altitude", far)["spread"] == pytest.approx(
        sums("altitude", points)["spread"], rel=1e-7
    )
    assert sums("altitude", far)["drift_per_min"] == pytest.approx(
        sums("altitude", points)["drift_per_min"], rel=1e-7
    )


def test_every_recorded_channel_has_a_row_and_only_those() -> None:
    head = "t_ms | step_ms | next_step_ms | vertical_speed_fpm | bank_deg | roll_control"
    text = f"{head}\n0 | 1000 | - | 300 | -2 | 0.5"
    con = build_over(
        ["channel_sums"], **{**OWN, "placed_samples": placed(text)}, patchy_channels=NONE_PATCHY
    )
    found = con.sql("SELECT channel, mean, rms, mean_absolute, hold95 FROM channel_sums").fetchall()
    assert sorted(found) == [
        ("bank", -2, 2, 2, None),
        ("roll_control", 0.5, 0.5, 0.5, None),
        ("vertical_speed", 300, 300, 300, None),
    ]
