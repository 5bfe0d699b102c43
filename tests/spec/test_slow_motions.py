"""slow_motions: climb, turn and power as slowly seen."""

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from tests.tables import frame_of

LIMITS = "inferred_slope_s | inferred_turn_slope_s | inferred_power_step\n30 | 9 | 0.05"


def motions(**columns: object) -> dict[str, list[Any]]:
    n = 200
    t = np.arange(n)
    table = pa.table(
        {
            "session_id": ["s1"] * n,
            "revision": [1] * n,
            "second_no": pa.array(t, pa.int32()),
            "stretch_no": pa.array(np.asarray(columns.get("stretch_no", 0 * t)), pa.int32()),
            "altitude_ft": np.asarray(columns.get("altitude_ft", 3000.0 + 0 * t), dtype=float),
            "heading_deg": np.asarray(columns.get("heading_deg", 90.0 + 0 * t), dtype=float),
            "power": np.asarray(columns.get("power", np.full(n, 0.6)), dtype=float),
        }
    )
    return (
        frame_of("slow_motions", session_seconds=table, limits=LIMITS)
        .sort("second_no")
        .to_dict(as_series=False)
    )


T = np.arange(200.0)


def test_a_steady_climb_and_turn_have_their_rate_everywhere() -> None:
    found = motions(altitude_ft=500 / 60 * T, heading_deg=3 * T)
    assert found["climb_fpm"] == pytest.approx([500] * 200)
    assert found["turn_deg_per_s"] == pytest.approx([3] * 200)


def test_the_aeroplanes_breathing_is_no_climb() -> None:
    """A phugoid of 100 ft and 25 s moves at 1500 ft/min at once, but hardly over half a minute."""
    found = motions(altitude_ft=3000 + 100 * np.sin(2 * np.pi * T / 25))
    assert max(abs(rate) for rate in found["climb_fpm"][15:-15]) < 250


def test_a_climb_begins_where_its_slow_rate_passes_half() -> None:
    found = motions(altitude_ft=np.interp(T, [80, 140], [3000, 3500]))
    rates = found["climb_fpm"]
    assert rates[80] == pytest.approx(250, abs=5)
    assert rates[140] == pytest.approx(250, abs=5)


def test_a_slope_does_not_look_across_a_break() -> None:
    found = motions(altitude_ft=np.where(T < 100, 3000, 5000), stretch_no=np.where(T < 100, 0, 1))
    assert found["climb_fpm"] == pytest.approx([0] * 200, abs=1e-6)


def test_one_second_alone_tells_no_slope() -> None:
    found = motions(altitude_ft=3000 + T, stretch_no=np.where(T < 199, 0, 1))
    assert (found["climb_fpm"][-1], found["turn_deg_per_s"][-1]) == (None, None)
    assert None not in found["climb_fpm"][:-1]


def test_a_step_of_power_stands_out_at_its_second_and_is_kept() -> None:
    found = motions(power=np.where(T <= 100, 0.6, 0.7))
    assert found["power_step"][100] == pytest.approx(0.1)
    assert found["power_kept"][100] == pytest.approx(0.1)
    assert found["power_unrest"][100] == pytest.approx(0)


def test_what_power_did_around_a_second_is_asked_only_where_it_stepped() -> None:
    found = motions(power=np.where(T <= 100, 0.6, 0.64))
    assert found["power_step"][100] == pytest.approx(0.04)
    assert set(found["power_kept"]) == set(found["power_unrest"]) == {None}
