"""A light single flown by AeroSandbox: its aerodynamics from its shape, its motion with nothing made linear.

Shape and weight are invented, of the size of a common trainer: 1050 kg, 15.7 m2, 51.4 m/s (100 kt). AeroSandbox's component
build-up gives lift, drag and pitching moment and their derivatives; its rigid body in the vertical plane gives the motion,
which scipy integrates. Needs the extra `flight`.
"""

# ruff: noqa: E501 (a line of the shape each)

import math
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.published.test_light_single import (
    LENGTH_S,
    LET_GO_S,
    figures,
    let_go_log,
    number,
    trimmed_log,
    worked_out,
)

pytestmark = pytest.mark.slow
asb = pytest.importorskip("aerosandbox", reason="needs the extra `flight`")

SPEED_M_S = 51.4
MASS_KG = 1050.0
DENSITY = 1.225
GRAVITY = 9.80665
FOOT, KNOT = 0.3048, 1852 / 3600
LEFT_OUT_DRAG = 0.022
"""Undercarriage, struts, cooling and the propeller's wake, which the build-up has not: lift to drag of 10."""
Lane = NDArray[np.float64]


def light_single() -> Any:  # noqa: ANN401 - a library without types
    """The aeroplane's shape, in metres."""
    cambered, plain = asb.Airfoil("naca2412"), asb.Airfoil("naca0010")

    def section(x: float, y: float, z: float, chord: float, twist: float, airfoil: Any) -> Any:  # noqa: ANN401
        return asb.WingXSec(xyz_le=[x, y, z], chord=chord, twist=twist, airfoil=airfoil)

    wing = [section(0, 0, 0, 1.6, 1.5, cambered), section(0.1, 5.4, 0.15, 1.3, 0, cambered)]
    tail = [section(4.8, 0, 0.1, 0.9, -2, plain), section(4.9, 1.7, 0.1, 0.7, -2, plain)]
    body = [(-1.8, 0.2), (-1, 0.5), (0.5, 0.65), (2, 0.5), (5.5, 0.1)]
    return asb.Airplane(
        xyz_ref=[0.42, 0, 0],
        wings=[asb.Wing(symmetric=True, xsecs=wing), asb.Wing(symmetric=True, xsecs=tail)],
        fuselages=[
            asb.Fuselage(
                xsecs=[asb.FuselageXSec(xyz_c=[x, 0, -0.1], radius=radius) for x, radius in body]
            )
        ],
    )


@cache
def trimmed() -> dict[str, float]:
    """Angle of attack (deg), coefficients and derivatives (per radian) in level flight."""
    shape = light_single()

    def build_up(alpha: float) -> dict[str, float]:
        point = asb.OperatingPoint(atmosphere=asb.Atmosphere(0), velocity=SPEED_M_S, alpha=alpha)
        found = asb.AeroBuildup(shape, point).run_with_stability_derivatives(
            alpha=True, beta=False, p=False, q=True, r=False
        )
        return {
            n: float(np.squeeze(found[n])) for n in ("CL", "CD", "CLa", "CDa", "Cma", "CLq", "Cmq")
        }

    pressure = DENSITY * SPEED_M_S**2 / 2
    lift = MASS_KG * GRAVITY / (pressure * shape.s_ref)
    alpha = brentq(lambda a: build_up(a)["CL"] - lift, -2, 6)
    found = build_up(alpha)
    drag = found["CD"] + LEFT_OUT_DRAG
    return {
        **found,
        "alpha": alpha,
        "CD": drag,
        "area": shape.s_ref,
        "chord": shape.c_ref,
        "thrust": pressure * shape.s_ref * drag,
    }


def motion(_: float, state: Lane) -> list[float]:
    """The rates of the state (x, z, u, w, pitch, pitch rate), as AeroSandbox has them; nobody touches anything."""
    names = ("x_e", "z_e", "u_b", "w_b", "theta", "q")
    mass = asb.MassProperties(mass=MASS_KG, Ixx=1700, Iyy=2200, Izz=3400)
    body = asb.DynamicsRigidBody2DBody(mass_props=mass, **dict(zip(names, state, strict=True)))
    t = trimmed()
    push = DENSITY * body.speed**2 / 2 * t["area"]
    off = math.atan2(state[3], state[2]) - math.radians(t["alpha"])
    turning = state[5] * t["chord"] / (2 * body.speed)
    body.add_gravity_force(GRAVITY)
    body.add_force(t["thrust"], 0, 0, axes="body")
    lift = t["CL"] + t["CLa"] * off + t["CLq"] * turning
    body.add_force(-push * (t["CD"] + t["CDa"] * off), 0, -push * lift, axes="wind")
    body.add_moment(0, push * t["chord"] * (t["Cma"] * off + t["Cmq"] * turning), 0, axes="body")
    rates = body.state_derivatives()
    return [float(np.squeeze(rates[name])) for name in names]


@cache
def free_flight(faster_m_s: float) -> Any:  # noqa: ANN401 - scipy's solution, dense
    """The flight after letting go that much too fast, as a function of time."""
    alpha = math.radians(trimmed()["alpha"])
    speed = SPEED_M_S + faster_m_s
    start = [0.0, 0.0, speed * math.cos(alpha), speed * math.sin(alpha), alpha, 0.0]
    solved = solve_ivp(
        motion, (0, LENGTH_S), start, method="LSODA", dense_output=True, rtol=1e-7, atol=1e-8
    )
    assert solved.success
    return solved.sol


def flown(faster_m_s: float, hz: int) -> tuple[Lane, ...]:
    """Seconds, feet risen, ft/min and knots."""
    seconds = np.arange(round(LENGTH_S * hz) + 1) / hz
    _, down, ahead, below, pitch, _ = free_flight(faster_m_s)(seconds)
    climb = ahead * np.sin(pitch) - below * np.cos(pitch)
    return seconds, -down / FOOT, 60 * climb / FOOT, np.hypot(ahead, below) / KNOT


def test_hands_off_breathes_within_a_fifth_of_lanchester_s_period() -> None:
    """|1 - Lanchester's / period| <= 0.2, the tolerance for real machines; the period by the peaks of altitude."""
    [row] = figures([let_go_log(flown(6.0, 4), 4)], "hands_off").values()
    seconds, risen, _, _ = flown(6.0, 20)
    peaks = seconds[1:-1][(risen[1:-1] > risen[:-2]) & (risen[1:-1] >= risen[2:])]
    period_s = float(np.diff(peaks[:5]).mean())
    assert number(row["period_s"]) == pytest.approx(period_s, abs=1.0)
    assert abs(1 - number(row["lanchester_period_s"]) / number(row["period_s"])) <= 0.2
    assert number(row["lanchester_period_s"]) == pytest.approx(23.31, abs=0.3)
    assert row["damping_ratio"] is None or 0.02 < number(row["damping_ratio"]) < 0.12


@pytest.mark.parametrize("faster_m_s", [0.5, 3.0, -5.0])
def test_settling_after_a_change_of_trim_is_what_the_words_say(faster_m_s: float) -> None:
    [row] = figures([trimmed_log(flown(faster_m_s, 4), 4)], "trim_settling").values()
    settled_s, set_s = worked_out(flown(faster_m_s, 100), 100)
    assert settled_s is not None
    assert set_s is not None
    assert number(row["trim_settle_s"]) == pytest.approx(settled_s, abs=0.5)
    assert number(row["trim_set_s"]) == pytest.approx(set_s, abs=0.5)
    assert LET_GO_S < number(row["trim_set_s"]) <= number(row["trim_settle_s"])
