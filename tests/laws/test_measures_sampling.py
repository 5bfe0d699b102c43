"""What a recorder's rate and a short gap may change stays within stated bounds; the rest does not change."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from tests.flights import DAY, Log, Task, connection_over, rows_by, stored_tables
from tests.reference.compare import KEYS
from tests.signals import NOTHING_FOUND, own_limits

FLIGHTS = 6
TASKS = (
    Task(5, 125, target_altitude_ft=4000.0, target_heading_deg=350.0),
    Task(130, 230, "level_off", target_altitude_ft=4000.0, target_heading_deg=350.0),
    Task(235, 265, "turn", target_altitude_ft=4000.0, target_heading_deg=50.0),
)
GAP = (60.0, 66.0)
BOUNDS: Mapping[str, Mapping[str, float]] = {
    "altitude_hold": {
        **{f"altitude_{name}_ft": 0.05 for name in ("bias", "sd", "rmse", "mae")},
        "altitude_max_ft": 1.0,
        "altitude_hold95_ft": 1.5,
        "altitude_drift_ft_per_min": 0.1,
    },
    "heading_hold": {
        **{f"heading_{name}_deg": 0.01 for name in ("bias", "sd", "rmse", "mae")},
        "heading_max_deg": 0.1,
        "heading_hold95_deg": 0.3,
    },
    "excursions": {"in_tolerance": 0.002, "excursions": 0.0, "out_s": 0.2, "longest_out_s": 0.1},
    "steadiness": {"vertical_speed_rms_fpm": 2.0, "control_sd": 0.001, "trim_inputs": 0.0},
    "held_control": {"held_control": 0.0005},
    "trim_settling": {"trim_settle_s": 0.2, "trim_set_s": 0.2},
    "capture_figures": {"overshoot_ft": 1.0, "capture_s": 1.0, "entry_rate_fpm": 12.0},
    "turn_figures": {"roll_out_error_deg": 0.1, "overshoot_deg": 0.2, "peak_rate_deg_per_s": 0.05},
    "technique": {"needle_r": 0.03, "correction_gain_per_min": 0.15, "over_rate_share": 0.02},
}
"""How far a figure may lie apart at 20 and at 5 samples a second; nought where it may not."""


def flight(number: int, hz: int) -> Log:
    """A smooth flight of 270 s: it swings, levels off, turns through north; a hand and a wheel that move."""
    draw = np.random.default_rng(number)
    t = np.arange(270 * hz + 1) / hz
    phase = draw.uniform(0, 2 * np.pi, 4)
    swing = draw.uniform(60, 260) * np.sin(2 * np.pi * t / draw.uniform(40, 70) + phase[0])
    off = draw.uniform(200, 400) * np.exp(-np.maximum(t - 130, 0) / draw.uniform(8, 20))
    altitude = 4000 + np.where(t < 130, swing, 0) + np.where(t < 130, 0, off)
    heading = 350 + 9 * np.sin(2 * np.pi * t / 50 + phase[1]) * (t < 230)
    heading = heading + np.clip((t - 236) * 2.5, 0, 60 + draw.uniform(-6, 6))
    climb = 60 * np.gradient(altitude, t)
    climb[np.abs(t - 130) < 1.5] = 0
    control = 0.04 * np.sin(2 * np.pi * t / 6 + phase[2]) * np.exp(-np.maximum(t - 130, 0) / 9)
    values = {
        "altitude_ft": altitude,
        "heading_deg": np.mod(heading, 360),
        "vertical_speed_fpm": climb,
        "bank_deg": 5 * np.sin(2 * np.pi * t / 30 + phase[3]),
        "airspeed_kt": 100 + 4 * np.sin(2 * np.pi * t / 45),
        "pitch_control": control,
        "pitch_trim": 0.1 * np.clip((t - 140) / 4, 0, 1) - 0.1 * np.clip((t - 40) / 4, 0, 1),
    }
    cells = {name: lane.tolist() for name, lane in values.items()}
    return Log([round(1000 * s) for s in t], cells, TASKS, session_id=f"S{number}-{hz}")


def without(log: Log, start_s: float, end_s: float) -> Log:
    """The log with the samples between two moments missing, as another session."""
    keep = [not start_s < ms / 1000 < end_s for ms in log.t_ms]
    cells = {
        name: [v for v, is_kept in zip(lane, keep, strict=True) if is_kept]
        for name, lane in log.values.items()
    }
    times = [ms for ms, is_kept in zip(log.t_ms, keep, strict=True) if is_kept]
    return replace(log, t_ms=times, values=cells, session_id=f"{log.session_id}-cut")


@cache
def figures() -> Mapping[str, dict[tuple[Any, ...], dict[str, Any]]]:
    """Every relation's rows over the same flights at 20 Hz, at 5 Hz, and at 5 Hz with a gap."""
    fine = [flight(n, 20) for n in range(FLIGHTS)]
    coarse = [flight(n, 5) for n in range(FLIGHTS)]
    cut = [without(log, *GAP) for log in coarse]
    neutral = {"device_id": "SIM-1", "session_date": DAY, "pitch_neutral": 0.0}
    neutrals = pa.Table.from_pylist([{**neutral, "neutral_reason": None, "student_count": 3}])
    con = connection_over(
        stored_tables([*fine, *coarse, *cut]),
        tuple(BOUNDS),
        device_neutrals=neutrals,
        own_limits=own_limits(),
        inferred_maneuvers=NOTHING_FOUND,
    )
    return {name: rows_by(con, name, *KEYS[name]) for name in BOUNDS}


def beside(relation: str, one: str, other: str) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """The rows of flights under one ending of the session's name, each with that under the other."""
    rows = figures()[relation]
    found = [
        (row, rows[key[0].replace(f"{one}.", f"{other}."), *key[1:]])
        for key, row in rows.items()
        if f"{one}." in key[0]
    ]
    assert len(found) >= FLIGHTS
    return found


@pytest.mark.parametrize("relation", BOUNDS)
def test_a_quarter_of_the_samples_moves_figures_within_bounds(relation: str) -> None:
    known: set[str] = set()
    for fine, coarse in beside(relation, "-20", "-5"):
        for column, bound in BOUNDS[relation].items():
            assert (fine[column] is None) == (coarse[column] is None), column
            if fine[column] is not None:
                known.add(column)
                assert abs(fine[column] - coarse[column]) <= bound + 1e-9, column
    assert known == set(BOUNDS[relation])


def test_a_gap_takes_its_own_time_away_and_no_more() -> None:
    """6 s of 120 s: the mean moves by at most what the lost time can weigh, no extreme grows."""
    lost = GAP[1] - GAP[0]
    for relation, unit in (("altitude_hold", "ft"), ("heading_hold", "deg")):
        name = relation.removesuffix("_hold")
        for whole, cut in beside(relation, "-5", "-5-cut"):
            if not whole["maneuver_id"].endswith(".01"):
                continue
            observed_s = whole[f"{name}_observed_s"]
            assert cut[f"{name}_observed_s"] == pytest.approx(observed_s - lost, abs=1e-6)
            largest = whole[f"{name}_max_{unit}"]
            weight = lost / (observed_s - lost)
            moved = abs(cut[f"{name}_bias_{unit}"] - whole[f"{name}_bias_{unit}"])
            assert moved <= 2 * largest * weight
            assert cut[f"{name}_max_{unit}"] <= largest + 1e-9


def test_a_gap_parts_an_excursion_at_most_once_and_hides_no_other_time() -> None:
    lost = GAP[1] - GAP[0]
    for whole, cut in beside("excursions", "-5", "-5-cut"):
        if whole["out_s"] is None:
            continue
        assert 0 <= whole["out_s"] - cut["out_s"] <= lost + 1e-6
        assert abs(cut["excursions"] - whole["excursions"]) <= 1
        assert cut["longest_out_s"] <= whole["longest_out_s"] + 1e-6


@pytest.mark.parametrize("relation", ["trim_settling", "capture_figures", "turn_figures"])
def test_a_gap_in_another_maneuver_changes_nothing(relation: str) -> None:
    for whole, cut in beside(relation, "-5", "-5-cut"):
        apart = {c for c in whole if c != "maneuver_id" and whole[c] != cut[c]}
        assert apart == set()
