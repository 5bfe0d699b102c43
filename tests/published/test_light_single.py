"""A light single flown by python-control: hands off, and let go after a change of trim.

The aeroplane is the Navion at 176 ft/s at sea level as printed in Nelson, Flight Stability and Automatic
Control, chapter 4 (from memory; its eigenvalues, recomputed, agree with the text's 29.5 s and 40.3 s to half
amplitude). python-control integrates the linear equations of motion; what the rule makes of the motion is
worked out from the rule's words, at 100 samples a second.
"""

import math
from collections.abc import Sequence
from functools import cache

import control
import numpy as np
import pyarrow as pa
import pytest
from numpy.typing import NDArray

from tests.flights import DAY, Log, Task, connection_over, stored_tables
from tests.signals import NOTHING_FOUND, evenly, own_limits

SPEED_FT_S = 176.0
KNOT_FT_S = 1.687810
MOTION = [
    [-0.045, 0.036, 0.0, -32.2],
    [-0.369, -2.02, 176.0, 0.0],
    [0.0019, -0.0396, -2.948, 0.0],
    [0.0, 0.0, 1.0, 0.0],
]
"""Rates of the changes in forward speed, downward speed (ft/s), pitch rate and pitch (rad)."""
SEEN = [[1.0, 0.0, 0.0, 0.0], [0.0, -1.0, 0.0, SPEED_FT_S]]
"""What is logged of them: the change of speed, and the rate of climb in ft/s."""
LENGTH_S = 240.0
LET_GO_S = 30.0
Lane = NDArray[np.float64]


def aeroplane() -> control.StateSpace:
    """The Navion with nobody touching it; its input is not used."""
    return control.ss(MOTION, np.zeros((4, 1)), SEEN, np.zeros((2, 1)))


@cache
def phugoid() -> tuple[float, float]:
    """Its period in seconds and its damping ratio, as python-control finds them."""
    natural, damping, poles = control.damp(aeroplane(), doprint=False)
    slow = int(np.argmin(natural))
    return 2 * math.pi / abs(float(poles[slow].imag)), float(damping[slow])


def free_flight(faster_ft_s: float, hz: float, length_s: float = LENGTH_S) -> tuple[Lane, ...]:
    """Seconds, change of altitude (ft), climb (ft/min) and airspeed (kt) after letting go that much too
    fast.
    """
    seconds = np.arange(round(length_s * hz) + 1) / hz
    start = [faster_ft_s, 0.0, 0.0, 0.0]
    faster, climb = control.initial_response(aeroplane(), seconds, start).outputs
    risen = np.concatenate([[0.0], np.cumsum((climb[1:] + climb[:-1]) / 2) / hz])
    return seconds, risen, 60 * climb, (SPEED_FT_S + faster) / KNOT_FT_S


def figures(logs: Sequence[Log], relation: str) -> dict[str, dict[str, object]]:
    """A relation's row for each log, by its session; their stick rests at zero."""
    neutral = {"device_id": "SIM-1", "session_date": DAY, "pitch_neutral": 0.0}
    con = connection_over(
        stored_tables(logs, devices=[{"device_id": "SIM-1"}]),
        [relation],
        bound_neutrals=pa.Table.from_pylist([neutral]),
        inferred_maneuvers=NOTHING_FOUND,
        own_limits=own_limits(),
    )
    rows = con.sql(f"FROM {relation}").to_arrow_table().to_pylist()
    return {row["maneuver_id"].partition(".")[0]: row for row in rows}


def number(value: object) -> float:
    """A figure that must be there."""
    assert isinstance(value, float)
    return value


def test_the_modes_are_those_of_the_text() -> None:
    period_s, damping = phugoid()
    assert period_s == pytest.approx(29.5, rel=0.01)
    assert damping == pytest.approx(0.0796, abs=1e-4)
    assert math.log(2) / (damping * 2 * math.pi / period_s) == pytest.approx(40.5, abs=0.3)


def let_go(faster_ft_s: float, hz: float, session_id: str) -> Log:
    """Level flight with hands off, altitude in feet, vertical speed in tens, airspeed in tenths."""
    return let_go_log(free_flight(faster_ft_s, hz), hz, session_id)


def let_go_log(flown: tuple[Lane, ...], hz: float, session_id: str = "S1") -> Log:
    """The log of a flight (seconds, feet risen, ft/min, knots) of LENGTH_S with hands off."""
    seconds, risen, climb, knots = flown
    values = {
        "altitude_ft": np.round(100 + risen),
        "vertical_speed_fpm": np.round(climb, -1),
        "airspeed_kt": np.round(knots, 1),
        "pitch_control": np.zeros(len(seconds)),
    }
    task = Task(0, LENGTH_S, target_altitude_ft=100.0, target_heading_deg=None)
    cells = {name: lane.tolist() for name, lane in values.items()}
    return Log(evenly(LENGTH_S, hz), cells, [task], session_id=session_id)


def test_hands_off_tells_the_phugoid_that_was_flown() -> None:
    """The period within a second, the damping within 0.01, and Lanchester's within a fifth, as it is
    for real machines.
    """
    flown = [(f, hz) for f in (30.0, 15.0, -20.0) for hz in (1.0, 4.0, 20.0)]
    rows = figures([let_go(*how, f"S{i}") for i, how in enumerate(flown)], "hands_off")
    period_s, damping = phugoid()
    told = 0
    for i, (faster_ft_s, _) in enumerate(flown):
        row = rows[f"S{i}"]
        assert number(row["period_s"]) == pytest.approx(period_s, abs=1.0)
        assert abs(1 - number(row["lanchester_period_s"]) / number(row["period_s"])) <= 0.2
        assert number(row["lanchester_period_s"]) == pytest.approx(24.28, abs=0.15)
        if row["damping_ratio"] is None:
            assert row["damping_reason"] == "too few swings above the noise"
            assert abs(faster_ft_s) < 30
        else:
            told += 1
            assert number(row["damping_ratio"]) == pytest.approx(damping, abs=0.01)
    assert told >= 3


def trimmed_then_let_go(faster_ft_s: float, hz: float = 4.0, session_id: str = "S1") -> Log:
    """A power change: a pull is held and trimmed away for half a minute, then the aeroplane is on its own."""
    return trimmed_log(free_flight(faster_ft_s, hz), hz, session_id)


def trimmed_log(flown: tuple[Lane, ...], hz: float, session_id: str = "S1") -> Log:
    """The log of a power change after which the aeroplane flies so, from LET_GO_S on."""
    held = evenly(LET_GO_S, hz)[:-1]
    seconds, risen, climb, knots = flown
    times = held + [round(1000 * (LET_GO_S + s)) for s in seconds]
    flat = np.zeros(len(held))
    trim = np.clip((np.array(times) / 1000 - 15) / 10, 0, 1) * 0.3
    values = {
        "altitude_ft": np.concatenate([flat, risen]) + 100,
        "vertical_speed_fpm": np.concatenate([flat, climb]),
        "airspeed_kt": np.concatenate([flat + knots[0], knots]),
        "pitch_control": np.concatenate([flat + 0.15, np.zeros(len(seconds))]),
        "pitch_trim": trim,
    }
    end_s = times[-1] / 1000
    task = Task(0, end_s, "power_change", target_altitude_ft=100.0, target_heading_deg=None)
    cells = {name: lane.tolist() for name, lane in values.items()}
    return Log(times, cells, [task], session_id=session_id)


def first_held(is_good: NDArray[np.bool_], hold: int) -> int | None:
    """The first index from which all of the next `hold` are good, both ends included."""
    bad = np.concatenate([[0], np.cumsum(~is_good)])
    whole = bad[hold + 1 :] == bad[: -hold - 1]
    return int(np.argmax(whole)) if whole.any() else None


def by_the_words(faster_ft_s: float, hz: int = 100) -> tuple[float | None, float | None]:
    """When the aeroplane was settled and when it was set, in seconds of the event, worked out densely."""
    return worked_out(free_flight(faster_ft_s, hz), hz)


def worked_out(flown: tuple[Lane, ...], hz: int) -> tuple[float | None, float | None]:
    """The two moments of the event whose log is trimmed_log, from the rule's words."""
    _, risen, climb, _ = flown
    before = round(LET_GO_S * hz)
    climb = np.concatenate([np.zeros(before), climb])
    off_ft = np.abs(np.concatenate([np.zeros(before), risen]))
    stick = np.concatenate([np.full(before, 0.15), np.zeros(len(climb) - before)])
    summed = [np.concatenate([[0.0], np.cumsum(lane)]) for lane in (climb, stick)]
    index = np.arange(len(climb)) + 1
    since = np.maximum(index - 5 * hz, 0)
    mean_climb, mean_stick = ((s[index] - s[since]) / (index - since) for s in summed)
    is_near = (off_ft <= 100) & (mean_stick <= 0.05)
    settled = first_held(is_near & (np.abs(mean_climb) <= 100), 20 * hz)
    ahead = 30 * hz
    mean_ahead = (summed[0][ahead:] - summed[0][:-ahead]) / ahead
    is_still = np.arange(len(climb)) >= 25 * hz
    near_for_long = np.array([False] * len(climb))
    bad = np.concatenate([[0], np.cumsum(~(is_near & is_still))])
    near_for_long[: len(climb) - ahead] = bad[ahead + 1 :] == bad[: -ahead - 1]
    good = near_for_long[: len(mean_ahead)] & (np.abs(mean_ahead) <= 100)
    put = int(np.argmax(good)) if good.any() else None
    return (None if settled is None else settled / hz, None if put is None else put / hz)


def test_settling_after_a_change_of_trim_is_what_the_words_say() -> None:
    """Both moments within two samples of the dense answer: the trimmed aeroplane is set as soon as it is
    let go, and settled only once its breathing has died out.
    """
    flown = [1.0, 5.0, 12.0, -15.0]
    logs = [trimmed_then_let_go(f, session_id=f"S{i}") for i, f in enumerate(flown)]
    rows = figures(logs, "trim_settling")
    for i, faster_ft_s in enumerate(flown):
        row = rows[f"S{i}"]
        settled_s, set_s = by_the_words(faster_ft_s)
        assert set_s is not None
        assert settled_s is not None
        assert number(row["trim_set_s"]) == pytest.approx(set_s, abs=0.5)
        assert number(row["trim_settle_s"]) == pytest.approx(settled_s, abs=0.5)
        assert LET_GO_S < number(row["trim_set_s"]) <= number(row["trim_settle_s"])


def test_the_breathing_must_die_out_to_settle_but_not_to_be_set() -> None:
    """At 5 ft/s too fast (27 ft either way of its level, 350 ft/min): set once the mean control is off,
    settled only when the envelope exp(-0.0170 t) has brought the climb to 100 ft/min, half a period early
    or late.
    """
    [row] = figures([trimmed_then_let_go(5.0)], "trim_settling").values()
    period_s, damping = phugoid()
    _, _, climb, _ = free_flight(5.0, 4.0)
    dies_s = math.log(float(np.abs(climb).max()) / 100) * period_s / (damping * 2 * math.pi)
    assert number(row["trim_set_s"]) < LET_GO_S + 6
    assert number(row["trim_settle_s"]) == pytest.approx(LET_GO_S + dies_s, abs=period_s / 2)
    assert dies_s > 2 * period_s
