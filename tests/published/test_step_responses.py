"""Settling and overshoot of step responses, with python-control as the oracle.

A level-off that answers like a second-order system: the error is the step's size times (response - 1).
Published: overshoot 9.478 % and 0.7854 s to the peak at damping 0.6 and 5 rad/s (Ogata, Modern Control
Engineering, chapter 5; from memory: 0.095 and 0.785), 2.838 % and 0.475 s for 100/(s^2+15s+100) (Nise,
Control Systems Engineering, chapter 4; from memory). Exact settling times were recomputed; the textbook rules
(4 and 3 over damping times frequency) miss them by up to half.
"""

from collections.abc import Mapping, Sequence
from functools import cache

import control
import numpy as np
import pyarrow as pa
import pytest
from numpy.typing import NDArray

from tests.flights import Log, Task, connection_over, stored_tables
from tests.signals import NOTHING_FOUND, evenly, own_limits

STEP_FT = 1000.0
FREQUENCY = 0.2
"""rad/s: slow enough for an aeroplane's altitude; times of a response scale with its inverse."""
DENSE = np.linspace(0, 45, 22_501)
EXACT = {  # seconds at 1 rad/s: within 2 %, within 5 %
    0.1: (38.384, 28.968),
    0.2: (19.602, 13.745),
    0.5: (8.076, 5.289),
    0.7: (5.979, 2.900),
    0.779: (5.149, None),
    0.78: (3.605, None),
    0.69: (None, 4.383),
    0.691: (None, 2.863),
    1.0: (5.834, 4.744),
}
NEUTRAL = {"device_id": "SIM-1", "pitch_neutral": 0.0}
Lane = NDArray[np.float64]


def system(damping: float, frequency: float = 1.0) -> control.TransferFunction:
    """The second-order system of this damping and frequency, its steady state 1."""
    return control.tf([frequency**2], [1, 2 * damping * frequency, frequency**2])


@cache
def info(damping: float, share: float) -> Mapping[str, float]:
    """python-control's figures of the response at 1 rad/s."""
    found: Mapping[str, float] = control.step_info(
        system(damping), T=DENSE, SettlingTimeThreshold=share
    )
    return found


def level_off(session_id: str, error: Lane, seconds: Lane) -> Log:
    """A session of one level-off to 4000 ft, its altitude off by `error` at `seconds`."""
    values = {
        "altitude_ft": (4000 + error).tolist(),
        "vertical_speed_fpm": (60 * np.gradient(error, seconds)).tolist(),
        "pitch_control": [0.0] * len(seconds),
        "pitch_trim": [0.0] * len(seconds),
    }
    task = Task(0, float(seconds[-1]), "level_off", target_heading_deg=None)
    return Log([round(1000 * s) for s in seconds], values, [task], session_id=session_id)


def told(logs: Sequence[Log], relation: str, **limits: float) -> dict[str, dict[str, object]]:
    """A relation's row for each session's event, the vertical speed not judged."""
    days = [{**NEUTRAL, "session_date": log.session_date} for log in logs[:1]]
    con = connection_over(
        stored_tables(logs),
        [relation],
        bound_neutrals=pa.Table.from_pylist(days),
        own_limits=own_limits(settle_vertical_speed_fpm=1e6, capture_rate_fpm=1e6, **limits),
        inferred_maneuvers=NOTHING_FOUND,
    )
    rows = con.sql(f"FROM {relation}").to_arrow_table().to_pylist()
    return {row["maneuver_id"].partition(".")[0]: row for row in rows}


def responses(dampings: Sequence[float], hz: float = 10, length_s: float = 280) -> list[Log]:
    """A level-off for each damping, as python-control flies it."""
    seconds = np.array(evenly(length_s, hz)) / 1000
    return [
        level_off(
            f"S{i}",
            STEP_FT * (control.step_response(system(damping, FREQUENCY), seconds).outputs - 1),
            seconds,
        )
        for i, damping in enumerate(dampings)
    ]


@pytest.mark.parametrize(("share", "place"), [(0.02, 0), (0.05, 1)])
def test_python_control_and_the_recomputed_values_agree(share: float, place: int) -> None:
    for damping, exact in EXACT.items():
        if (expected := exact[place]) is not None:
            assert info(damping, share)["SettlingTime"] == pytest.approx(expected, abs=2.5e-3)


def test_published_overshoots_and_peaks() -> None:
    assert info(0.6, 0.02)["Overshoot"] == pytest.approx(9.478, abs=2e-3)
    assert info(0.6, 0.02)["PeakTime"] / 5 == pytest.approx(0.7854, abs=2e-4)
    assert info(0.75, 0.02)["Overshoot"] == pytest.approx(2.8375, abs=2e-3)
    assert info(0.75, 0.02)["PeakTime"] / 10 == pytest.approx(0.47496, abs=1e-4)


@pytest.mark.parametrize(("share", "place"), [(0.02, 0), (0.05, 1)])
def test_settling_is_the_exact_one_where_the_hold_outlasts_half_a_swing(
    share: float, place: int
) -> None:
    """The exact value jumps with the damping (0.779 to 0.780 within 2 %): so it must do here."""
    dampings = [d for d, exact in EXACT.items() if exact[place] is not None]
    found = told(
        responses(dampings),
        "trim_settling",
        settle_altitude_ft=share * STEP_FT,
        settle_hold_s=40.0,
    )
    for i, damping in enumerate(dampings):
        exact_s = info(damping, share)["SettlingTime"] / FREQUENCY
        # Before the next sample, 0.1 s later, nothing can be known.
        assert 0 <= float(str(found[f"S{i}"]["trim_settle_s"])) - exact_s + 0.01 <= 0.12


def test_capture_and_overshoot_of_a_level_off_are_those_of_the_response() -> None:
    """Read from the means of each second: within a second, and within 0.3 per cent of the step."""
    dampings = [0.1, 0.2, 0.5, 0.6, 0.7]
    found = told(responses(dampings), "capture_figures", capture_altitude_ft=50, capture_hold_s=40)
    for i, damping in enumerate(dampings):
        figures = info(damping, 0.05)
        row = found[f"S{i}"]
        exact_s = figures["SettlingTime"] / FREQUENCY
        assert float(str(row["capture_s"])) == pytest.approx(exact_s, abs=1.0)
        overshoot_ft = STEP_FT * figures["Overshoot"] / 100
        assert float(str(row["overshoot_ft"])) == pytest.approx(overshoot_ft, abs=3e-3 * STEP_FT)


@pytest.mark.parametrize(("share", "constants"), [(0.02, 3.9120), (0.05, 2.9957), (0.1, 2.3026)])
def test_a_first_order_system_settles_when_it_should(share: float, constants: float) -> None:
    seconds = np.array(evenly(120, 10)) / 1000
    lag = control.tf([1], [15, 1])
    dense = control.step_info(lag, T=np.linspace(0, 100, 10_001), SettlingTimeThreshold=share)
    assert dense["SettlingTime"] == pytest.approx(15 * constants, abs=2e-2)
    log = level_off("S0", STEP_FT * (control.step_response(lag, seconds).outputs - 1), seconds)
    [row] = told([log], "trim_settling", settle_altitude_ft=share * STEP_FT).values()
    assert float(str(row["trim_settle_s"])) == pytest.approx(15 * constants, abs=0.11)


def test_a_signal_that_leaves_after_the_hold_was_met_stays_settled() -> None:
    """First entry with a hold against last exit: they differ, unless the hold reaches past the bump."""
    seconds = np.array(evenly(200, 10)) / 1000
    response = control.step_response(system(0.7, FREQUENCY), seconds).outputs
    bump = 0.2 * np.exp(-(((seconds - 100) / 4) ** 2))
    log = level_off("S0", STEP_FT * (response + bump - 1), seconds)
    last_exit = control.step_info(
        response + bump, T=seconds, SettlingTimeThreshold=0.05, yfinal=1.0
    )["SettlingTime"]
    first, patient = (
        told([log], "trim_settling", settle_altitude_ft=50.0, settle_hold_s=hold_s)["S0"]
        for hold_s in (30.0, 90.0)
    )
    assert last_exit > 100
    assert float(str(first["trim_settle_s"])) == pytest.approx(
        info(0.7, 0.05)["SettlingTime"] / FREQUENCY, abs=0.12
    )
    assert float(str(patient["trim_settle_s"])) == pytest.approx(last_exit, abs=0.12)
