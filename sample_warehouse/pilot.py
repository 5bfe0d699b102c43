"""A student at the controls, as arrays: sees late and one instrument at a time, corrects by rule of thumb.

The pilot aims at a rate of twice the altitude error (ft to ft/min, FAA-H-8083-15), turns that into a
pitch attitude, holds the attitude with the stick, and trims the held stick away. In bank: no more
degrees than the heading is off. What the students differ in is `Habits`. The gains are this project's
own, chosen so that the loop is calm with reaction times of 0.3 to 0.8 s.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_warehouse.flight import (
    CRUISE_POWER,
    FPM_PER_KT,
    ROLL_RATE_PER_CONTROL,
    TRIM_AUTHORITY,
    Lanes,
)

Flags = NDArray[np.bool_]

FPM_PER_RAD = 176.7 * 57.2958  # vertical speed per radian of pitch at 100 kt
STICK_PER_RAD, STICK_HOLD_S = 1.4, 10.0
LEARN_ATTITUDE_S, RATE_SHARE = (
    10.0,
    0.4,
)  # the share of a rate error that goes at once into attitude
TRIM_TRAVEL_PER_S = 0.05
TRIMS_BELOW_FPM = 220.0  # no trimming in level flight while a larger rate is wanted
CHASE_STICK_PER_FPM, CHASE_MOST_STICK = 0.0005, 0.085
POWER_PER_KT, POWER_PER_ANGLE = 0.025, CRUISE_POWER * 9.5


@dataclass(frozen=True)
class Habits:
    """One value per lane: how a student flies."""

    reaction_steps: NDArray[np.int64]
    dwell_s: Lanes
    scan_start: Lanes
    trim_wait_s: Lanes
    trim_dead: Lanes
    lets_go: Flags
    chases: Flags
    hand_noise: Lanes


@dataclass(frozen=True)
class Asked:
    """What the present leg asks of each lane, and since when."""

    altitude_ft: Lanes
    heading_rad: Lanes
    power: Lanes
    level_kt: Lanes  # the speed that this power gives in level flight
    speed_kt: Lanes
    rate_cap_fpm: Lanes
    bank_cap_rad: Lanes
    aim_altitude_ft: Lanes  # what the student is content with, beside the target
    aim_heading_rad: Lanes
    held_stick: Lanes  # what the student leaves untrimmed
    is_vertical: Flags  # a climb or a descent
    may_let_go: Flags
    leg_s: Lanes


@dataclass(frozen=True)
class View:
    """What can be seen, already late by the reaction time."""

    altitude_ft: Lanes
    needle_fpm: Lanes
    heading_rad: Lanes
    pitch_rad: Lanes
    bank_rad: Lanes
    roll_rate: Lanes


def wrapped(angle: Lanes) -> Lanes:
    """The same angle in [-pi, pi)."""
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


def beyond(value: Lanes, dead: float) -> Lanes:
    """The part of a value that lies beyond a dead band about zero."""
    return np.asarray(np.sign(value) * np.maximum(np.abs(value) - dead, 0.0))


class Pilot:
    """The hand and the memory of each lane's student."""

    def __init__(self, habits: Habits, view: View, trim: Lanes, stick: Lanes, power: Lanes) -> None:
        zero = np.zeros_like(trim)
        self.habits, self.trim, self.stick, self.power = habits, trim, stick, power
        self.roll_stick, self.roll_hold = zero.copy(), zero.copy()
        self.hold, self.held, self.slow_needle = stick.copy(), stick.copy(), zero.copy()
        self.target_rate, self.attitude = zero.copy(), view.pitch_rad.copy()
        self.seen_altitude, self.seen_heading = view.altitude_ft.copy(), view.heading_rad.copy()
        self.seen_needle = zero.copy()
        self.is_hands_off: Flags = np.zeros(zero.shape, dtype=bool)
        self.is_trimming = self.is_hands_off.copy()
        self.calm_s, self.change_s, self.nudge_s = zero.copy(), zero.copy(), zero.copy()

    def fly(self, view: View, asked: Asked, now_s: float, noise: Lanes, step_s: float) -> None:
        """Look, decide and move the controls for one step."""
        self._scan(view, now_s)
        off_altitude = self.seen_altitude - asked.altitude_ft - asked.aim_altitude_ft
        self.target_rate = np.clip(-2.0 * off_altitude, -asked.rate_cap_fpm, asked.rate_cap_fpm)
        self._pitch(view, noise, step_s)
        self._let_go_or_take(view, asked, step_s)
        self._trim(asked, now_s, step_s)
        self._roll(view, asked, noise, step_s)
        self._power(asked, step_s)

    def _scan(self, view: View, now_s: float) -> None:
        """Altimeter, needle, heading, needle, in turn; the horizon is seen all the time."""
        place = np.floor(now_s / self.habits.dwell_s + self.habits.scan_start) % 4
        altitude = np.round(view.altitude_ft / 10) * 10
        self.seen_altitude = np.where(place == 0, altitude, self.seen_altitude)
        sees_needle = (place % 2 == 1) | self.habits.chases
        self.seen_needle = np.where(sees_needle, view.needle_fpm, self.seen_needle)
        self.seen_heading = np.where(place == 2, view.heading_rad, self.seen_heading)

    def _pitch(self, view: View, noise: Lanes, step_s: float) -> None:
        off_rate = beyond(self.target_rate - self.seen_needle, 25.0)
        self.attitude += step_s / LEARN_ATTITUDE_S * off_rate / FPM_PER_RAD
        off_attitude = self.attitude + RATE_SHARE * off_rate / FPM_PER_RAD - view.pitch_rad
        by_needle = CHASE_MOST_STICK * np.tanh(CHASE_STICK_PER_FPM * off_rate / CHASE_MOST_STICK)
        by_attitude, chases = STICK_PER_RAD * off_attitude, self.habits.chases
        wanted = np.where(chases, by_needle, by_attitude) + self.hold
        learnt = np.where(chases, 0.02 * by_needle, by_attitude / STICK_HOLD_S)
        hold = np.clip(self.hold + step_s * learnt, -0.5, 0.5)
        self.hold = np.where(self.is_hands_off, 0.0, hold)
        wanted = np.clip(wanted + self.habits.hand_noise * noise, -0.6, 0.6)
        self.stick += step_s / 0.25 * (np.where(self.is_hands_off, 0.0, wanted) - self.stick)
        self.held += step_s / 3.0 * (self.stick - self.held)
        self.slow_needle += step_s / 10.0 * (view.needle_fpm - self.slow_needle)

    def _let_go_or_take(self, view: View, asked: Asked, step_s: float) -> None:
        """Let go once trimmed and calm; take hold again when it wanders too far by itself."""
        off_altitude = np.abs(view.altitude_ft - asked.altitude_ft - asked.aim_altitude_ft)
        needle = np.abs(view.needle_fpm)
        is_calm = (np.abs(self.held) < 0.011) & (needle < 60) & (off_altitude < 50)
        self.calm_s = np.where(is_calm & asked.may_let_go, self.calm_s + step_s, 0.0)
        self.change_s += step_s
        goes = ~self.is_hands_off & self.habits.lets_go & (self.calm_s > 4) & (self.change_s > 8)
        takes = self.is_hands_off & ((off_altitude > 85) | (needle > 350) | ~asked.may_let_go)
        self.attitude = np.where(takes, view.pitch_rad, self.attitude)
        self.is_hands_off = (self.is_hands_off | goes) & ~takes
        self.change_s = np.where(goes | takes, 0.0, self.change_s)

    def _trim(self, asked: Asked, now_s: float, step_s: float) -> None:
        """Trim in short turns of the wheel until the held stick is what the student is content with."""
        excess = self.held - asked.held_stick
        too_much, target = np.abs(excess), np.abs(self.target_rate)
        steady = np.abs(self.seen_needle - self.target_rate) < 200
        steady &= asked.is_vertical | (target < TRIMS_BELOW_FPM)
        starts = (too_much > self.habits.trim_dead) & (asked.leg_s > self.habits.trim_wait_s)
        goes_on = too_much > 0.3 * self.habits.trim_dead
        self.is_trimming = (self.is_trimming | (starts & steady)) & goes_on & ~self.is_hands_off
        self.is_trimming &= ~self.habits.chases | (asked.leg_s > self.habits.trim_wait_s)
        in_turn = (now_s / 2.5 + self.habits.scan_start) % 1.0 < 0.5
        speed = TRIM_TRAVEL_PER_S * np.clip(excess / 0.03, -1, 1)
        turned = np.where(self.is_trimming & in_turn, step_s * speed, 0.0)
        self.hold -= 0.7 * TRIM_AUTHORITY * turned
        self.nudge_s += step_s
        nudges = self.is_hands_off & (np.abs(self.slow_needle) > 50) & (self.nudge_s > 15)
        turned = np.where(nudges, -0.006 * np.sign(self.slow_needle), turned)
        self.nudge_s = np.where(nudges | ~self.is_hands_off, 0.0, self.nudge_s)
        self.trim = np.clip(self.trim + turned, -1.0, 1.0)

    def _roll(self, view: View, asked: Asked, noise: Lanes, step_s: float) -> None:
        off_heading = wrapped(self.seen_heading - asked.heading_rad - asked.aim_heading_rad)
        off_heading = beyond(off_heading, float(np.radians(1.5)))
        off_bank = np.clip(-off_heading, -asked.bank_cap_rad, asked.bank_cap_rad) - view.bank_rad
        self.roll_hold = np.clip(self.roll_hold + step_s * 0.10 * off_bank, -0.3, 0.3)
        wanted = (0.8 * off_bank - 0.25 * view.roll_rate) / ROLL_RATE_PER_CONTROL + self.roll_hold
        wanted = np.clip(wanted + 0.6 * self.habits.hand_noise * noise, -0.6, 0.6)
        self.roll_stick += step_s / 0.2 * (wanted - self.roll_stick)

    def _power(self, asked: Asked, step_s: float) -> None:
        """Set what is asked; in level flight lead the speed, and pay for a climb that is wanted."""
        slow = beyond(asked.level_kt - asked.speed_kt, 3.0)
        angle = beyond(self.target_rate, 100.0) / (FPM_PER_KT * asked.speed_kt)
        mend = np.clip(POWER_PER_KT * slow + POWER_PER_ANGLE * angle, -0.3, 0.3)
        wanted = np.clip(asked.power + np.where(asked.is_vertical, 0.0, mend), 0.0, 1.0)
        fastest = step_s * np.where(asked.leg_s > 30, 0.03, 0.12)
        moved = np.clip(wanted - self.power, -fastest, fastest)
        self.power = self.power + np.where(asked.leg_s < 1.5, 0.0, moved)
