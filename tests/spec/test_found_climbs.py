"""found_climbs: which changes of altitude were meant."""

from typing import Any

import numpy as np
import pytest

from tests.logs import log_inputs, ramp, samples
from tests.tables import rows_of

CLIMB = ramp((120, 3000), (180, 3500))


def climbs(seconds: float = 400, hz: float = 1, **channels: Any) -> list[tuple[str, Any, Any]]:  # noqa: ANN401
    log = samples(seconds, hz, **{"heading_deg": lambda t: 90 + 0 * t, **channels})
    rows = rows_of("found_climbs", **log_inputs(log))
    return [(r["kind"], r["start_no"], r["end_no"]) for r in rows]


@pytest.mark.parametrize("hz", [1, 4, 20])
def test_a_climb_without_logged_power_is_found_at_its_seconds(hz: float) -> None:
    [found] = climbs(hz=hz, altitude_ft=CLIMB)
    assert found == ("climb", pytest.approx(120, abs=1), pytest.approx(180, abs=1))


def test_a_descent_is_a_climb_downwards() -> None:
    [(kind, _, _)] = climbs(altitude_ft=ramp((120, 3500), (180, 3000)))
    assert kind == "descent"


def test_at_constant_power_a_change_of_altitude_was_not_meant() -> None:
    assert climbs(altitude_ft=CLIMB, power=lambda t: 0.65 + 0 * t) == []
    meant = climbs(altitude_ft=CLIMB, power=lambda t: np.where((t > 118) & (t < 182), 1.0, 0.65))
    assert [kind for kind, _, _ in meant] == ["climb"]


def test_a_large_change_was_meant_whatever_the_power() -> None:
    found = climbs(altitude_ft=ramp((120, 3000), (260, 4200)), power=lambda t: 0.65 + 0 * t)
    assert [kind for kind, _, _ in found] == ["climb"]


def test_without_power_a_change_that_does_not_last_was_a_wander() -> None:
    assert climbs(altitude_ft=ramp((120, 3000), (165, 3400), (210, 3000))) == []


def test_breathing_and_turbulence_are_no_climb() -> None:
    rough = np.random.default_rng(1).normal(0, 20, 1600)
    assert (
        climbs(
            hz=4, altitude_ft=lambda t: 3000 + 100 * np.sin(2 * np.pi * t / 28) + rough[: len(t)]
        )
        == []
    )


def test_coarse_altitudes_still_show_the_climb() -> None:
    [found] = climbs(altitude_ft=lambda t: 25 * np.round(CLIMB(t) / 25))
    assert found == ("climb", pytest.approx(120, abs=2), pytest.approx(180, abs=2))
