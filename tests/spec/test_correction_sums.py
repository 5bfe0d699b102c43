"""correction_sums: how corrections were made, second by second."""

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from tests.logs import NO_LIMITS, window, windows
from tests.tables import rows_of

T = np.arange(120.0)


def sums(**columns: Any) -> dict[str, Any]:  # noqa: ANN401
    nothing = np.full(len(T), np.nan)
    names = (
        "pitch_control",
        "vertical_speed_fpm",
        "altitude_error_ft",
        "heading_error_deg",
        "bank_deg",
        "airspeed_kt",
    )
    means = {
        name: pa.array(np.asarray(columns.get(name, nothing), float), from_pandas=True)
        for name in names
    }
    table = pa.table(
        {"maneuver_id": ["m1"] * len(T), "second_no": pa.array(T.astype(int)), **means}
    )
    [row] = rows_of(
        "correction_sums",
        second_means=table,
        maneuver_windows=windows(window("level", 0, 120)),
        own_limits=NO_LIMITS,
    )
    return row


def test_a_control_that_answers_the_needle_a_second_later_is_in_step_with_it() -> None:
    needle = 300 * np.sin(T / 2)
    row = sums(vertical_speed_fpm=needle, pitch_control=-0.0001 * np.roll(needle, 1))
    assert row["needle_r"] == pytest.approx(-1, abs=0.01)


def test_a_hand_that_does_its_own_thing_is_not() -> None:
    draw = np.random.default_rng(1)
    row = sums(vertical_speed_fpm=300 * np.sin(T / 2), pitch_control=draw.normal(0, 0.02, len(T)))
    assert abs(row["needle_r"]) < 0.3


def test_swings_that_double_have_a_growth_of_two() -> None:
    assert sums(vertical_speed_fpm=np.where(T < 60, 100.0, -200.0))["growth"] == pytest.approx(2)


def test_the_handbooks_correction_has_a_gain_of_two_and_breaks_no_bound() -> None:
    """Rate of twice the error: an error of 200 ft decays with a time constant of 30 s."""
    error = 200 * np.exp(-T / 30)
    row = sums(altitude_error_ft=error, vertical_speed_fpm=-2 * error)
    assert row["correction_gain_per_min"] == pytest.approx(2)
    assert row["over_rate_share"] == 0


def test_a_rate_of_more_than_200_beyond_what_is_called_for_is_over_controlling() -> None:
    row = sums(altitude_error_ft=50 + 0 * T, vertical_speed_fpm=np.where(T < 30, -301.0, -300.0))
    assert row["over_rate_share"] == pytest.approx(0.25)
    capped = sums(altitude_error_ft=900 + 0 * T, vertical_speed_fpm=-701 + 0 * T)
    assert capped["over_rate_share"] == 1


def test_bank_beyond_the_degrees_of_error_is_over_banking() -> None:
    row = sums(heading_error_deg=10 + 0 * T, bank_deg=np.where(T < 60, -13.0, -13.1))
    assert row["over_bank_share"] == pytest.approx(0.5)


def test_bank_beyond_standard_rate_is_over_banking_however_large_the_error() -> None:
    """Standard rate takes 15.4 deg at 100 kt."""
    row = sums(
        heading_error_deg=60 + 0 * T, bank_deg=np.where(T < 60, 18.3, 18.5), airspeed_kt=100 + 0 * T
    )
    assert row["over_bank_share"] == pytest.approx(0.5)


def test_what_was_not_logged_is_not_judged() -> None:
    row = sums()
    assert [row[name] for name in row if name != "maneuver_id"] == [None] * 5
    still = sums(pitch_control=0 * T, vertical_speed_fpm=100 * np.sin(T))
    assert still["needle_r"] is None


def test_a_second_without_an_altitude_or_a_heading_calls_for_nothing() -> None:
    """Were it taken as one far off, a fast rate or a steep bank in it would pass for called for."""
    is_seen = T < 60
    row = sums(
        altitude_error_ft=np.where(is_seen, 50, np.nan),
        vertical_speed_fpm=np.where(T % 2 == 0, 400, 10),
        heading_error_deg=np.where(is_seen, 5, np.nan),
        bank_deg=np.where(T % 2 == 0, 12, 1),
        airspeed_kt=100 + 0 * T,
    )
    assert row["over_rate_share"] == 0.5
    assert row["over_bank_share"] == 0.5


def test_values_that_never_change_where_both_are_known_tell_no_slope() -> None:
    late = np.where(T < 100, np.nan, 100.0)
    row = sums(altitude_error_ft=np.where(T < 100, T, 50.0), vertical_speed_fpm=late)
    assert row["correction_gain_per_min"] is None
    row = sums(pitch_control=np.where(T < 101, T, 50.0), vertical_speed_fpm=late)
    assert row["needle_r"] is None
