"""session_seconds: the grid of whole seconds on which maneuvers are searched for."""

from typing import Any

import numpy as np
import pyarrow as pa

from tests.logs import breaks, samples, shifted
from tests.tables import frame_of

LIMITS = "inferred_gap_s | inferred_flying_kt\n10 | 40"
SEARCHED = "session_id | revision | open_s\ns1 | 1 | 600"


def seconds(log: pa.Table, found: tuple[str, int, int] | None = None) -> dict[str, list[float]]:
    frame = frame_of(
        "session_seconds",
        stored_samples=log,
        untasked_sessions=SEARCHED,
        session_breaks=breaks(*([found] if found else [])),
        limits=LIMITS,
    )
    return frame.sort("second_no").to_dict(as_series=False)


def flight(seconds_long: float, hz: float = 4, **more: Any) -> pa.Table:  # noqa: ANN401
    return samples(
        seconds_long, hz, altitude_ft=lambda t: 3000 + t, heading_deg=lambda t: 90 + 0 * t, **more
    )


def test_a_second_is_the_mean_of_its_samples_whatever_the_rate() -> None:
    found = seconds(flight(3, 4))
    assert found["second_no"] == [0, 1, 2]
    assert found["altitude_ft"] == [3000.375, 3001.375, 3002.375]
    assert seconds(flight(3, 1))["altitude_ft"] == [3000, 3001, 3002]


def test_before_the_sessions_start_seconds_are_counted_backwards() -> None:
    found = seconds(shifted(flight(3, 4), -1500))
    assert found["second_no"] == [-2, -1, 0, 1]
    assert found["altitude_ft"] == [3000.125, 3000.875, 3001.875, 3002.625]


def test_headings_go_on_across_north_and_south_without_a_step() -> None:
    log = samples(
        200, 4, altitude_ft=lambda t: 3000 + 0 * t, heading_deg=lambda t: (100 + 3 * t) % 360
    )
    assert np.allclose(np.diff(seconds(log)["heading_deg"]), 3)


def test_a_break_begins_a_new_stretch_and_paused_seconds_are_left_out() -> None:
    found = seconds(flight(12, 1), ("pause", 4000, 8000))
    assert found["second_no"] == [0, 1, 2, 3, 8, 9, 10, 11]
    assert found["stretch_no"] == [0, 0, 0, 0, 1, 1, 1, 1]


def test_the_ground_is_no_flight_and_ends_a_stretch() -> None:
    on_ground = seconds(flight(40, 1, on_ground=lambda t: (t >= 10) & (t < 30)))
    assert on_ground["second_no"] == [*range(10), *range(30, 40)]
    assert on_ground["stretch_no"] == [0] * 10 + [1] * 10
    slow = seconds(flight(40, 1, airspeed_kt=lambda t: np.where(t < 20, 30.0, 90.0)))
    assert slow["second_no"] == list(range(20, 40))


def test_a_session_that_is_not_searched_has_no_seconds() -> None:
    log = samples(10, 1, session_id="other", altitude_ft=lambda t: t, heading_deg=lambda t: t)
    assert seconds(log)["second_no"] == []
