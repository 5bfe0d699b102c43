"""Every relation of the devices of a store, from its scored level flights."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from tests.reference.devices import (
    Reading,
    Rows,
    bank_of_turn,
    control_moves_of,
    control_neutrals_of,
    control_steps_of,
    sensor_biases_of,
)
from tests.reference.health import Device
from tests.reference.holds import hold_of
from tests.reference.sessions import Limits, Session, Window


@dataclass(frozen=True)
class LevelFlight:
    """A scored level maneuver: who counts as its student, and whether the device's stick centres."""

    window: Window
    student_id: str
    control: str

    def reading(self, part: str, value: float) -> Reading:
        session = self.window.session
        device = session.row["device_id"]
        return Reading(device, self.student_id, session.session_date, part, value)

    def mean(self, channel: str, limits: Limits) -> float | None:
        hold = hold_of(self.window, channel, limits)
        return hold.mean if hold else None

    def drift(self, channel: str, limits: Limits) -> float | None:
        hold = hold_of(self.window, channel, limits)
        return hold.drift_per_min if hold else None

    def controls(self, limits: Limits) -> list[Reading]:
        """Where its controls were; a free yoke's pitch tells nothing."""
        parts = ("roll_control",) if self.control == "free" else ("pitch_control", "roll_control")
        means = ((part, self.mean(part, limits)) for part in parts)
        return [self.reading(part, mean) for part, mean in means if mean is not None]

    def sensors(self, limits: Limits) -> list[Reading]:
        """How far its sensors read off: vertical speed from the altitude's slope, bank from the turn's."""
        found = []
        speed, climb = self.mean("vertical_speed", limits), self.drift("altitude", limits)
        is_logged = not self.window.session.is_speed_derived
        if is_logged and speed is not None and climb is not None:
            found.append(self.reading("vertical speed", speed - climb))
        bank, turn = self.mean("bank", limits), self.drift("heading", limits)
        airspeed = hold_of(self.window, "airspeed", limits)
        knots = airspeed.median if airspeed else None
        if bank is not None and turn is not None and knots is not None:
            found.append(self.reading("bank", bank - bank_of_turn(turn, knots)))
        return found


class Fleet:
    """What is told of devices: flights are those of known devices, sessions all that count."""

    def __init__(
        self,
        flights: Sequence[LevelFlight],
        sessions: Sequence[Session],
        as_of: date,
        limits: Limits,
    ) -> None:
        self._flights = flights
        self._sessions = [s for s in sessions if s.row["device_id"] is not None]
        self._as_of = as_of
        self._limits = limits
        self._controls = [r for f in flights for r in f.controls(limits)]

    @property
    def days(self) -> set[tuple[str, date]]:
        """Each device and the days on which it was flown."""
        return {(s.row["device_id"], s.session_date) for s in self._sessions}

    @cached_property
    def neutrals(self) -> Rows:
        return control_neutrals_of(self.days, self._controls, self._limits)

    @cached_property
    def moves(self) -> Rows:
        return control_moves_of(self._controls, self._limits)

    def control_neutrals(self) -> Rows:
        return self.neutrals

    def control_moves(self) -> Rows:
        return self.moves

    def control_steps(self) -> Rows:
        return control_steps_of(self.moves, self._limits)

    def sensor_biases(self) -> Rows:
        readings = [r for f in self._flights for r in f.sensors(self._limits)]
        return sensor_biases_of(self.days, readings, self._limits)

    def device_health(self) -> Rows:
        first = self._as_of - timedelta(days=self._limits["neutral_window_days"])
        flown: dict[str, list[Session]] = {}
        for session in self._sessions:
            if first < session.session_date <= self._as_of:
                flown.setdefault(session.row["device_id"], []).append(session)
        figures = (self.neutrals, self.sensor_biases(), self.moves, self.control_steps())
        found: Rows = {}
        for device, sessions in flown.items():
            found |= Device(device, self._as_of, sessions, *figures).checks(self._limits)
        return found
