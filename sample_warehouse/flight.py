"""A light trainer as arrays: many flights side by side, one lane each.

A small point-mass aeroplane with a quick pitch response, so that it shows what matters for
straight-and-level flight: the phugoid, the push or pull that trim should carry, the change of
trim that power and speed call for, a drift off heading when a wing is heavy. It is no model of
any type, and air density is left out (indicated and true airspeed are the same number).

Sources. Phugoid at a fixed elevator: period sqrt(2) pi V / g (Lanchester 1908), lengthened by
the damping in pitch as real machines do (5 to 21 % longer); damping about 1 / (sqrt(2) L/D).
Short period: 3.6 rad/s at a damping of 0.69, the Navion example of Nelson, Flight Stability
and Automatic Control, chapter 4. Turn rate: g tan(bank) / V.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Lanes = NDArray[np.float64]

GRAVITY_FT_S2 = 32.174
FT_S_PER_KT = 1.687810
FPM_PER_KT = 101.2686
CRUISE_KT = 100.0
CRUISE_FT_S = CRUISE_KT * FT_S_PER_KT
CRUISE_POWER = 0.67
CRUISE_ALPHA = np.radians(4.0)  # above the angle of zero lift
ZERO_LIFT_ALPHA = np.radians(-2.0)
ALPHA_PER_CONTROL = np.radians(12.0)  # per full travel of the stick
ALPHA_PER_POWER = np.radians(1.0)  # more power, nose up
TRIM_AUTHORITY = 0.5  # full trim is worth half of full stick
SHORT_PERIOD_RAD_S = 3.6
SHORT_PERIOD_DAMPING = 0.69
ROLL_RATE_PER_CONTROL = np.radians(60.0)
ROLL_LAG_S = 0.3


@dataclass(frozen=True)
class Airframe:
    """What differs between devices, one value per lane."""

    lift_to_drag: Lanes  # at cruise
    pitch_damping_s: Lanes  # angle of attack lost per unit of turning upward; lengthens the phugoid
    heavy_wing: Lanes  # roll control that would balance it, + right wing heavy


@dataclass
class State:
    """Where each aeroplane is and how it moves; angles in radians, lengths in feet."""

    speed: Lanes
    climb_angle: Lanes
    alpha: Lanes
    alpha_rate: Lanes
    altitude: Lanes
    bank: Lanes
    roll_rate: Lanes
    heading: Lanes

    @property
    def vertical_speed_fpm(self) -> Lanes:
        """Rate of climb in feet per minute."""
        return np.asarray(60.0 * self.speed * np.sin(self.climb_angle))

    @property
    def pitch(self) -> Lanes:
        """Pitch attitude in radians, + nose up."""
        return np.asarray(self.climb_angle + self.alpha + ZERO_LIFT_ALPHA)


@dataclass(frozen=True)
class Inputs:
    """What acts on each aeroplane during one step."""

    elevator: Lanes  # stick and trim together, in stick travel
    aileron: Lanes
    power: Lanes
    gust_along: Lanes  # ft/s, + headwind
    gust_up: Lanes  # ft/s
    gust_roll: Lanes  # rad/s


def drag_to_weight(airframe: Airframe, speed_ratio: Lanes, load: Lanes) -> Lanes:
    """Drag over weight at a speed (1 = cruise) and a load factor; least at 0.7 of cruise speed."""
    at_cruise = 1.0 / airframe.lift_to_drag
    parasite, induced = 0.806 * at_cruise, 0.194 * at_cruise
    return np.asarray(parasite * speed_ratio**2 + induced * (load / speed_ratio) ** 2)


def thrust_to_weight(airframe: Airframe, speed_ratio: Lanes, power: Lanes) -> Lanes:
    """Thrust over weight of a propeller: it falls as speed grows; cruise power holds cruise speed."""
    return power / CRUISE_POWER / airframe.lift_to_drag * (1.35 - 0.35 * speed_ratio)


def level_speed_ratio(airframe: Airframe, power: Lanes) -> Lanes:
    """Speed (1 = cruise) at which power just holds level flight, on the fast side of the curve."""
    ratio = np.full_like(power, 1.15)
    one = np.ones_like(power)
    for _ in range(60):
        surplus = thrust_to_weight(airframe, ratio, power) - drag_to_weight(airframe, ratio, one)
        ratio = np.clip(ratio + surplus * airframe.lift_to_drag * 0.4, 0.72, 1.3)
    return ratio


def elevator_for_level(speed_ratio: Lanes, power: Lanes) -> Lanes:
    """Stick and trim together, in stick travel, that hold one g at a speed and power."""
    alpha = CRUISE_ALPHA / speed_ratio**2
    return np.asarray(
        (alpha - CRUISE_ALPHA - ALPHA_PER_POWER * (power - CRUISE_POWER)) / ALPHA_PER_CONTROL
    )


def advance(state: State, inputs: Inputs, airframe: Airframe, step_s: float) -> None:
    """Move every aeroplane on by one step, in place (semi-implicit Euler)."""
    airspeed = state.speed + inputs.gust_along
    ratio = airspeed / CRUISE_FT_S
    load = ratio**2 * (state.alpha + inputs.gust_up / state.speed) / CRUISE_ALPHA
    surplus = thrust_to_weight(airframe, ratio, inputs.power) - drag_to_weight(
        airframe, ratio, load
    )
    turn_up = GRAVITY_FT_S2 / state.speed * (load * np.cos(state.bank) - np.cos(state.climb_angle))
    state.speed += step_s * GRAVITY_FT_S2 * (surplus - np.sin(state.climb_angle))
    state.climb_angle += step_s * turn_up
    wanted = (
        CRUISE_ALPHA
        + ALPHA_PER_CONTROL * inputs.elevator
        + ALPHA_PER_POWER * (inputs.power - CRUISE_POWER)
        - airframe.pitch_damping_s * turn_up
        - inputs.gust_up / state.speed  # the tail turns the nose into the relative wind
    )
    stiffness = SHORT_PERIOD_RAD_S**2 * (wanted - state.alpha)
    state.alpha_rate += step_s * (
        stiffness - 2 * SHORT_PERIOD_DAMPING * SHORT_PERIOD_RAD_S * state.alpha_rate
    )
    state.alpha += step_s * state.alpha_rate
    state.altitude += step_s * state.speed * np.sin(state.climb_angle)
    roll_target = ROLL_RATE_PER_CONTROL * (inputs.aileron + airframe.heavy_wing) + inputs.gust_roll
    state.roll_rate += step_s / ROLL_LAG_S * (roll_target - state.roll_rate)
    state.bank += step_s * state.roll_rate
    state.heading += step_s * GRAVITY_FT_S2 * np.tan(state.bank) / state.speed


def level_flight(airframe: Airframe, power: Lanes, altitude: Lanes, heading: Lanes) -> State:
    """Steady level flight at a power, wings level."""
    ratio = level_speed_ratio(airframe, power)
    zero = np.zeros_like(power)
    return State(
        speed=ratio * CRUISE_FT_S,
        climb_angle=zero.copy(),
        alpha=CRUISE_ALPHA / ratio**2,
        alpha_rate=zero.copy(),
        altitude=altitude.copy(),
        bank=zero.copy(),
        roll_rate=zero.copy(),
        heading=heading.copy(),
    )
