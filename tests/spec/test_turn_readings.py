"""turn_readings: which way round, how rolled out, what altitude did."""

from typing import Any

import pytest

from tests.logs import Formula, log_inputs, ramp, samples, window, windows
from tests.tables import rows_of


def reading(
    heading: Formula,
    target: float | None,
    start: float = 20,
    end: float = 40,
    **more: Any,  # noqa: ANN401
) -> dict[str, Any]:
    channels = {"altitude_ft": lambda t: 3000 + 0 * t, **more}
    log = samples(120, 4, heading_deg=lambda t: heading(t) % 360, **channels)
    given = windows(window("turn", start, end, heading_deg=target))
    [row] = rows_of("turn_readings", **{**log_inputs(log), "maneuver_windows": given})
    return row


def test_a_turn_across_north_that_ends_on_its_heading() -> None:
    row = reading(ramp((20, 340), (35, 385)), 25)
    assert row["asked_deg"] == pytest.approx(45, abs=2)
    assert row["turned_deg"] == pytest.approx(45, abs=2)
    assert row["roll_out_error_deg"] == pytest.approx(0, abs=1e-6)
    assert row["overshoot_deg"] == pytest.approx(0, abs=1e-6)
    assert row["peak_rate_deg_per_s"] == pytest.approx(3, abs=0.01)


def test_a_roll_out_too_late_overshoots_and_comes_back() -> None:
    row = reading(ramp((20, 90), (36, 138), (44, 132)), 130)
    assert row["overshoot_deg"] == pytest.approx(8, abs=0.5)
    assert row["roll_out_error_deg"] == pytest.approx(2, abs=0.5)


def test_a_roll_out_too_early_stays_short_and_overshoots_nothing() -> None:
    row = reading(ramp((20, 90), (30, 60)), 50)
    assert row["overshoot_deg"] == 0
    assert row["roll_out_error_deg"] == pytest.approx(10, abs=0.1)


def test_the_long_way_round_turns_against_what_was_asked() -> None:
    row = reading(ramp((20, 90), (120, -240)), 120, end=118)
    assert row["asked_deg"] == pytest.approx(30, abs=2)
    assert row["turned_deg"] < -300


def test_bank_and_altitude_are_the_largest_of_the_turn() -> None:
    row = reading(
        ramp((20, 90), (35, 135)),
        135,
        altitude_ft=ramp((20, 3000), (30, 2940), (40, 3000)),
        bank_deg=ramp((20, 0), (25, -17), (35, 0)),
    )
    assert row["altitude_kept_ft"] == pytest.approx(60, abs=5)
    assert row["peak_bank_deg"] == pytest.approx(17, abs=2)


def test_without_a_target_there_is_no_error_but_the_turn_is_told() -> None:
    row = reading(ramp((20, 90), (35, 135)), None)
    assert row["turned_deg"] == pytest.approx(45, abs=2)
    assert row["asked_deg"] is None
    assert row["roll_out_error_deg"] is None
    assert row["overshoot_deg"] is None
