"""air_readings: what shakes the aeroplane beyond what the student does."""

from typing import Any

import numpy as np
import pytest

from tests.expected import stored
from tests.logs import log_inputs, samples
from tests.tables import rows_of

DRAW = np.random.default_rng(7)
SECONDS = 400


def each_second(values: np.ndarray) -> Any:  # noqa: ANN401
    return lambda t: values[t.astype(int)]


def reading(hz: float = 1, **channels: Any) -> dict[str, Any]:  # noqa: ANN401
    calm = {"altitude_ft": lambda t: 3000 + 0 * t, "heading_deg": lambda t: 90 + 0 * t}
    [row] = rows_of("air_readings", **log_inputs(samples(SECONDS, hz, **{**calm, **channels})))
    return row


def test_the_shake_of_white_noise_is_its_second_difference() -> None:
    """A second difference of independent values has a variance of 1 + 4 + 1 times theirs."""
    noise = DRAW.normal(0, 10, SECONDS)
    row = reading(vertical_speed_fpm=each_second(noise), airspeed_kt=each_second(100 + noise / 10))
    assert row["vertical_shake_fpm"] == pytest.approx(10 * np.sqrt(6), rel=0.1)
    assert row["airspeed_shake_kt"] == pytest.approx(np.sqrt(6), rel=0.1)
    assert row["explained_by"] is None


def test_motion_that_pitch_explains_is_not_the_airs_doing() -> None:
    """176.7 ft/min per degree at 100 kt, spread over three seconds, with a little noise of its own."""
    pitch = DRAW.normal(0, 2, SECONDS)
    rate = 176.7 * (0.2 * pitch + 0.5 * np.roll(pitch, 1) + 0.3 * np.roll(pitch, 2))
    rate += DRAW.normal(0, 4, SECONDS)
    alone = reading(vertical_speed_fpm=each_second(rate))
    explained = reading(vertical_speed_fpm=each_second(rate), pitch_deg=each_second(pitch))
    assert alone["vertical_shake_fpm"] > 150
    assert explained["vertical_shake_fpm"] == pytest.approx(4 * np.sqrt(6), rel=0.15)
    assert explained["explained_by"] == "pitch attitude"


def test_the_pitch_control_stands_in_where_pitch_was_not_logged() -> None:
    control = DRAW.normal(0, 0.05, SECONDS)
    row = reading(
        vertical_speed_fpm=each_second(2000 * control), pitch_control=each_second(control)
    )
    assert row["explained_by"] == "pitch control"
    assert row["vertical_shake_fpm"] == pytest.approx(0, abs=0.5)


def test_a_slow_climb_or_a_phugoid_shakes_next_to_nothing() -> None:
    row = reading(vertical_speed_fpm=lambda t: 500 + 400 * np.sin(2 * np.pi * t / 25))
    assert row["vertical_shake_fpm"] < 20


def test_vertical_speed_that_was_not_logged_comes_from_altitude() -> None:
    altitude = 3000 + 100 * np.sin(2 * np.pi * np.arange(SECONDS + 1) / 25)
    row = reading(altitude_ft=each_second(altitude))
    assert 0 < row["vertical_shake_fpm"] < 100
    assert row["altitude_step_ft"] is not None


def test_where_no_second_can_be_judged_the_shake_is_unknown_not_nothing() -> None:
    """Pitch is logged in this session, but never here."""
    seconds = "\n".join(f"S1 | 1 | {t} | {50 * t} | - | 100 | -" for t in range(9))
    names = "vertical_speed_fpm | altitude_ft | airspeed_kt | cause"
    [row] = rows_of(
        "air_readings",
        air_seconds=f"session_id | revision | second_no | {names}\n{seconds}",
        stored_sessions=stored("sessions", "channels | session_id\npitch_deg | S1"),
        altitude_steps="session_id | revision | altitude_step_ft",
    )
    assert (row["seconds"], row["vertical_shake_fpm"]) == (0, None)
    assert (row["airspeed_seconds"], row["airspeed_shake_kt"]) == (5, 0)
