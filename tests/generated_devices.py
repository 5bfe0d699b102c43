"""Schools made up for their devices from a seed: sticks replaced, sensors that read off, coarse recorders.

Sessions are short and plain (one or two level tasks at 1 Hz); what differs is who flew what when, and
what was wrong with the device on that day.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from tests.flights import Log, Task, Value
from tests.generated_flights import School

FIRST_DAY = date(2026, 1, 5)


@dataclass(frozen=True)
class Device:
    """A device and its faults."""

    device_id: str
    pitch_neutral: float
    roll_neutral: float
    stepped_on: int
    mended_on: int
    pitch_step: float
    roll_step: float
    speed_off_fpm: float
    bank_off_deg: float
    altitude_grain_ft: float
    heading_grain_deg: float
    control_grain: float
    missing: str

    def log(self, day: int, student: int, seed: int, length_s: int, session_id: str) -> Log:
        """A session on the day, of level flight in a slow turn and a slow climb."""
        rng = np.random.default_rng(seed)
        t = np.arange(float(length_s))
        is_new = self.stepped_on <= day < self.mended_on
        climb_fpm, turn_deg_per_min = rng.uniform(-40, 40), rng.uniform(-30, 30)
        bank = np.degrees(np.arctan(np.radians(turn_deg_per_min / 60) * 100 * 1.68781 / 32.174))
        own = 0.01 * (student - 3) + rng.normal(0, 0.006)
        pitch = self.pitch_neutral + is_new * self.pitch_step + own
        roll = self.roll_neutral + is_new * self.roll_step + own / 2
        made = {
            "altitude_ft": self._in_steps(4000 + climb_fpm / 60 * t, self.altitude_grain_ft),
            "heading_deg": self._in_steps(88 + turn_deg_per_min / 60 * t, self.heading_grain_deg),
            "vertical_speed_fpm": climb_fpm + self.speed_off_fpm + rng.normal(0, 20, len(t)),
            "airspeed_kt": 100 + rng.normal(0, 0.5, len(t)),
            "bank_deg": bank + self.bank_off_deg + rng.normal(0, 0.5, len(t)),
            "pitch_control": self._in_steps(
                pitch + rng.normal(0, 0.01, len(t)), self.control_grain
            ),
            "roll_control": roll + rng.normal(0, 0.01, len(t)),
        }
        values: dict[str, Sequence[Value]] = {
            name: [float(v) for v in np.asarray(channel, np.float32)]
            for name, channel in made.items()
            if name != self.missing
        }
        half = length_s / 2
        tasks = (
            [Task(0, half), Task(half, length_s - 1)] if seed % 3 == 0 else [Task(0, length_s - 1)]
        )
        gates: list[Mapping[str, Any]] = []
        if seed % 7 == 0:
            severity = ("suspect", "not_scored", "note")[seed % 3]
            gates.append(_gate(severity, "bank_deg" if seed % 2 else None))
        return Log(
            [int(x * 1000) for x in t],
            values,
            tasks,
            session_id,
            1,
            f"TH{student:02d}",
            FIRST_DAY + timedelta(days=day),
            self.device_id,
            gates=gates,
        )

    @staticmethod
    def _in_steps(values: Any, grain: float) -> Any:  # noqa: ANN401
        return np.round(values / grain) * grain if grain else values


def _gate(severity: str, channel: str | None) -> Mapping[str, Any]:
    return {
        "gate": "frozen",
        "severity": severity,
        "channel": channel,
        "affected": 3,
        "from_s": 0.0,
        "to_s": 3.0,
        "detail": "made up",
    }


def _device(name: str, rng: np.random.Generator) -> Device:
    """One device, sound or not."""

    def one_of(*values: Any) -> Any:  # noqa: ANN401
        return values[int(rng.integers(len(values)))]

    return Device(
        device_id=name,
        pitch_neutral=one_of(0.0, 0.02, -0.06),
        roll_neutral=one_of(0.0, 0.05),
        stepped_on=one_of(20, 30, 31, 45, 1000),
        mended_on=one_of(60, 80, 150, 1000),
        pitch_step=one_of(0.06, 0.025, -0.1, 0.02),
        roll_step=one_of(0.0, 0.03, 0.05),
        speed_off_fpm=one_of(0.0, 45.0, -200.0),
        bank_off_deg=one_of(0.0, 2.0, -1.6),
        altitude_grain_ft=one_of(0.0, 1.0, 25.0, 100.0),
        heading_grain_deg=one_of(0.0, 0.1, 5.0),
        control_grain=one_of(0.0, 0.001, 0.02),
        missing=one_of(
            *("", "", "", "vertical_speed_fpm", "bank_deg", "airspeed_kt", "pitch_control")
        ),
    )


LISTS: Sequence[tuple[Mapping[str, Any], ...]] = (
    (),
    ({"device_id": "SIM-2", "control": "free"},),
    (
        {"device_id": "SIM-1", "control": "free", "valid_from": date(2026, 1, 1)},
        {"device_id": "SIM-1", "control": "centring", "valid_from": date(2026, 2, 20)},
    ),
)
REVIEWS: Sequence[tuple[Mapping[str, Any], ...]] = (
    (),
    (
        {"kind": "withdraw", "session_id": "S003"},
        {"kind": "reassign", "session_id": "S001", "student_id": "TH09"},
        {"kind": "set-aside", "maneuver_id": "S002.1.01"},
    ),
)


def device_school(seed: int) -> School:
    """Up to 120 sessions in up to 200 days, by one to nine students; the same for the same seed."""
    rng = np.random.default_rng(seed)
    fleet = [_device(name, rng) for name in ("SIM-1", "SIM-2", "SIM-3")]
    students, days, sessions = (
        int(rng.choice(n)) for n in ([1, 4, 6, 6, 9], [1, 60, 70, 120, 200], [1, 20, 60, 120, 120])
    )
    logs = []
    for i in range(sessions):
        device = fleet[int(rng.choice(3, p=[0.7, 0.2, 0.1]))]
        day, student, flight = (int(rng.integers(0, n)) for n in (days, students, 2**31))
        log = device.log(day, student, flight, int(rng.integers(20, 40)), f"S{i:03d}")
        logs.append(replace(log, device_id=None) if rng.random() < 0.03 else log)
        if rng.random() < 0.05:
            logs.append(replace(log, revision=2, student_id="TH07"))
    return School(tuple(logs), LISTS[seed % 3], REVIEWS[seed % 2])
