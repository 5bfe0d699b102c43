"""found_power_changes: which steps of power in level flight were meant."""

import numpy as np
import pytest

from tests.logs import NO_LIMITS, Formula, log_inputs, ramp, samples
from tests.tables import rows_of


def changes(power: Formula, altitude: Formula = lambda t: 3000 + 0 * t) -> list[tuple[int, float]]:
    log = samples(400, 1, altitude_ft=altitude, heading_deg=lambda t: 90 + 0 * t, power=power)
    rows = rows_of("found_power_changes", **log_inputs(log))
    return [(r["start_no"], r["power_step"]) for r in rows]


def test_a_step_that_lasts_is_a_power_change_at_its_second() -> None:
    [(start_no, step)] = changes(lambda t: np.where(t <= 150, 0.67, 0.57))
    assert start_no == 150
    assert step == pytest.approx(-0.1, abs=1e-6)


def test_a_small_step_a_slow_drift_and_a_short_push_are_none() -> None:
    assert changes(lambda t: np.where(t <= 150, 0.67, 0.62)) == []
    assert changes(ramp((150, 0.67), (200, 0.57))) == []
    assert changes(lambda t: np.where((t > 150) & (t < 170), 0.80, 0.67)) == []


def test_a_hand_that_wanders_on_the_lever_changes_nothing() -> None:
    assert changes(lambda t: 0.65 + 0.08 * np.sign(np.sin(2 * np.pi * t / 17))) == []


def test_power_set_for_a_climb_belongs_to_the_climb() -> None:
    power: Formula = lambda t: np.where((t > 115) & (t <= 185), 1.0, 0.65)  # noqa: E731
    assert changes(power, ramp((120, 3000), (180, 3500))) == []


def test_of_steps_on_both_sides_of_a_jump_each_is_told() -> None:
    """Seconds that were searched already, so that two steps within 5 s are both plain."""
    found = rows_of(
        "found_power_changes",
        slow_motions="""
            session_id | revision | stretch_no | second_no | power_step | power_kept | power_unrest
            s1         | 1        | 0          | 100       | 0.10       | 0.10       | 0
            s1         | 1        | 0          | 101       | 0.12       | 0.10       | 0
            s1         | 1        | 1          | 104       | -0.20      | -0.10      | 0""",
        found_climbs="session_id | revision | start_no | end_no\ns2 | 1 | 90 | 120",
        own_limits=NO_LIMITS,
    )
    assert sorted((r["stretch_no"], r["start_no"], r["power_step"]) for r in found) == [
        (0, 101, 0.12),
        (1, 104, -0.20),
    ]
