"""Fly many planned sessions at once; hand back what happened in each, before any recorder rounds it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_warehouse import flight, intentions
from sample_warehouse.flight import Airframe, Inputs, Lanes
from sample_warehouse.lessons import SESSION_S
from sample_warehouse.pilot import Asked, Pilot, View
from sample_warehouse.progress import Progress, Task
from sample_warehouse.timetable import Session
from sample_warehouse.weather import Air

STEP_S = 0.05
STEPS_PER_SAMPLE = 5  # 4 Hz
STEPS = round(SESSION_S / STEP_S)
SECONDS = round(SESSION_S) + 2
REMEMBERED_STEPS = 24  # longer than any reaction time
HAND_MEMORY_S = 0.7
SHOWN_RATE_LAG_S = 0.5
CLIMB_KT = 85.0
KEPT = (
    "altitude_ft",
    "heading_deg",
    "vertical_speed_fpm",
    "airspeed_kt",
    "pitch_deg",
    "bank_deg",
    "pitch_control",
    "roll_control",
    "pitch_trim",
    "power",
    "is_hands_off",
)


@dataclass(frozen=True)
class Flight:
    """One flown session: its channels at 4 Hz (control from a centred stick), and its tasks."""

    session: Session
    channels: dict[str, NDArray[np.float64]]
    tasks: tuple[Task, ...]


def fly(sessions: list[Session]) -> list[Flight]:
    """Fly the sessions side by side; each depends only on its own plan and seed."""
    cockpits = _Cockpits(sessions)
    for step in range(STEPS):
        cockpits.step(step)
    return cockpits.flights()


class _Cockpits:
    """All lanes: aeroplanes, students, the air and the lesson."""

    def __init__(self, sessions: list[Session]) -> None:
        self.sessions, self.count = sessions, len(sessions)
        self.lanes = np.arange(self.count)
        draws = [np.random.default_rng([*session.seed, 3]) for session in sessions]
        self.progress = Progress(sessions)
        pairs = list(zip(sessions, draws, strict=True))
        self.held = self.progress.padded([intentions.held_by_leg(s, d) for s, d in pairs])
        self.habits = intentions.habits(sessions, draws, STEP_S)
        aims = [intentions.aims(s, d, SECONDS) for s, d in pairs]
        self.aim_altitude, self.aim_heading = np.array(aims).transpose(1, 0, 2)
        self.air = Air([session.air for session in sessions], draws, STEPS)
        hands = np.array([draw.standard_normal(STEPS) for draw in draws], dtype=np.float32)
        self.hand_shocks, self.hand = np.ascontiguousarray(hands.T), np.zeros(self.count)
        self._set_off()

    def _set_off(self) -> None:
        """Everyone in level flight, trimmed as each would have it, near what each aims at."""
        devices = [session.device for session in self.sessions]
        self.airframe = Airframe(
            lift_to_drag=np.array([device.lift_to_drag for device in devices]),
            pitch_damping_s=np.array([device.pitch_damping_s for device in devices]),
            heavy_wing=np.array([session.heavy_wing for session in self.sessions]),
        )
        ratios = np.array(
            [flight.level_speed_ratio(self.airframe, power) for power in self.progress.power.T]
        ).T
        self.level_kt = flight.CRUISE_KT * ratios
        power, stick = self.progress.power[:, 0].copy(), self.held[:, 0].copy()
        altitude = self.progress.altitude_ft[:, 0] + self.aim_altitude[:, 0]
        heading = self.progress.heading_rad[:, 0] + self.aim_heading[:, 0]
        self.state = flight.level_flight(self.airframe, power, altitude, heading)
        needed = flight.elevator_for_level(ratios[:, 0], power)
        self.needle, self.shown_rate = np.zeros(self.count), np.zeros(self.count)
        self.needle_lag = np.array([device.needle_lag_s for device in devices])
        self.memory = np.empty((REMEMBERED_STEPS, 6, self.count))
        self.memory[:] = self._seen()
        trim = (needed - stick) / flight.TRIM_AUTHORITY
        self.pilot = Pilot(self.habits, View(*self._seen()), trim, stick, power)
        self.kept: list[Lanes] = []

    def _seen(self) -> Lanes:
        state = self.state
        return np.array(
            [state.altitude, self.needle, state.heading, state.pitch, state.bank, state.roll_rate]
        )

    def step(self, step: int) -> None:
        """One step of all lanes: record, look, move the controls, fly."""
        now_s = step * STEP_S
        if step % STEPS_PER_SAMPLE == 0:
            self._move_on(now_s)
            self.kept.append(self._sample())
        self.memory[step % REMEMBERED_STEPS] = self._seen()
        looked = (step - self.habits.reaction_steps) % REMEMBERED_STEPS
        late = self.memory[looked, :, self.lanes].T
        kick = np.sqrt(2 * STEP_S / HAND_MEMORY_S) * self.hand_shocks[step]
        self.hand += STEP_S / HAND_MEMORY_S * -self.hand + kick
        self.pilot.fly(View(*late), self._asked(now_s), now_s, self.hand, STEP_S)
        self.air.blow(step, self.state.speed, STEP_S)
        flight.advance(self.state, self._inputs(), self.airframe, STEP_S)
        true_rate = self.state.vertical_speed_fpm
        self.needle += STEP_S / self.needle_lag * (true_rate - self.needle)
        self.shown_rate += STEP_S / SHOWN_RATE_LAG_S * (true_rate - self.shown_rate)

    def _move_on(self, now_s: float) -> None:
        wanted = self.progress.altitude_ft[self.progress.at] + self.aim_altitude[:, int(now_s)]
        to_go_ft = wanted - self.state.altitude
        self.progress.move_on(now_s, to_go_ft, self.shown_rate, self.state.heading)

    def _asked(self, now_s: float) -> Asked:
        at, second = self.progress.at, int(now_s)
        part = now_s - second
        steadiness = np.where(self.progress.by_instructor[at], 0.15, 1.0)
        altitude, heading = (
            steadiness * (aim[:, second] + part * (aim[:, second + 1] - aim[:, second]))
            for aim in (self.aim_altitude, self.aim_heading)
        )
        is_vertical, is_turn = self.progress.is_vertical[at], self.progress.is_turn[at]
        leg_s = now_s - self.progress.started_s
        return Asked(
            altitude_ft=self.progress.altitude_ft[at],
            heading_rad=self.progress.heading_rad[at],
            power=self.progress.power[at],
            level_kt=self.level_kt[at],
            speed_kt=self.state.speed / flight.FT_S_PER_KT,
            rate_cap_fpm=self._rate_cap(),
            bank_cap_rad=np.radians(np.where(is_turn, 17.0, 10.0)),
            aim_altitude_ft=altitude,
            aim_heading_rad=heading,
            held_stick=self.held[at],
            is_vertical=is_vertical,
            may_let_go=~is_vertical & ~is_turn & (leg_s > 4),
            leg_s=leg_s,
        )

    def _rate_cap(self) -> Lanes:
        """The largest rate aimed at: in a climb whatever holds the climb speed, else a fixed one."""
        at, speed_kt = self.progress.at, self.state.speed / flight.FT_S_PER_KT
        in_climb = np.clip(550.0 + 40.0 * (speed_kt - CLIMB_KT), 200.0, 900.0)
        elsewhere = np.where(self.progress.is_vertical[at], 500.0, 450.0)
        return np.where(self.progress.is_climb[at], in_climb, elsewhere)

    def _inputs(self) -> Inputs:
        return Inputs(
            elevator=self.pilot.stick + flight.TRIM_AUTHORITY * self.pilot.trim,
            aileron=self.pilot.roll_stick,
            power=self.pilot.power,
            gust_along=self.air.along,
            gust_up=self.air.up,
            gust_roll=self.air.roll,
        )

    def _sample(self) -> Lanes:
        """One value per kept channel and lane, in the order of `KEPT`."""
        state, pilot = self.state, self.pilot
        return np.array(
            [
                state.altitude,
                np.degrees(state.heading) % 360,
                self.shown_rate,
                (state.speed + self.air.along) / flight.FT_S_PER_KT,
                np.degrees(state.pitch),
                np.degrees(state.bank),
                pilot.stick,
                pilot.roll_stick,
                pilot.trim,
                pilot.power,
                pilot.is_hands_off,
            ]
        )

    def flights(self) -> list[Flight]:
        """What happened, one flight per session."""
        block = np.array(self.kept)
        return [
            Flight(
                session=session,
                channels={name: block[:, place, lane] for place, name in enumerate(KEPT)},
                tasks=self.progress.tasks(lane),
            )
            for lane, session in enumerate(self.sessions)
        ]
