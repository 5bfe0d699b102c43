"""What operations should look at on a device."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import numpy as np

from tests.reference.devices import Row, Rows, is_within
from tests.reference.neutrals import rounded_away
from tests.reference.sessions import Limits, Session


def resolution_of(session: Session, column: str) -> float | None:
    """The smallest change from one sample to the next, in steps of 0.0001; None where none changed.

    Samples are kept in single precision, and so is what lies between two of them.
    """
    values = [None if v is None else np.float32(v) for v in session.columns[column]]
    pairs = pairwise(values)
    changes = [abs(b - a) for a, b in pairs if a is not None and b is not None and a != b]
    return rounded_away(float(min(changes)), 1e-4) if changes else None


@dataclass(frozen=True)
class Device:
    """What is known of a device on the date asked for."""

    device_id: str
    as_of: date
    sessions: Sequence[Session]
    """Those that count, of the neutral_window_days up to the date."""
    neutrals: Rows
    biases: Rows
    moves: Rows
    steps: Rows

    def checks(self, limits: Limits) -> Rows:
        """The rows of `device_health` of this device."""
        told: dict[str, Row] = {}
        last = max(s.session_date for s in self.sessions)
        for part in ("pitch_control", "roll_control"):
            words = part.replace("_", " ")
            neutral = self.neutrals.get((self.device_id, last, part))
            if neutral:
                told[f"{words} at rest"] = _check(
                    neutral["neutral"],
                    "of travel",
                    limits["neutral_off_centre"],
                    neutral["neutral_reason"],
                )
            stepped = self._stepped(part, limits)
            if stepped:
                told[f"{words} stepped"] = stepped
        for sensor, limit in (
            ("vertical speed", "vertical_speed_bias_fpm"),
            ("bank", "bank_bias_deg"),
        ):
            bias = self.biases.get((self.device_id, last, sensor))
            if bias:
                told[f"{sensor} reads off"] = _check(
                    bias["bias"], bias["unit"], limits[limit], bias["bias_reason"]
                )
        told |= self._resolutions(limits)
        doubted = [
            s
            for s in self.sessions
            if any(g["severity"] in ("suspect", "not_scored") for g in s.row["gates"])
        ]
        told["sessions with a suspect channel"] = _check(len(doubted), "sessions", 0)
        return {
            (self.device_id, name): {**row, "session_count": len(self.sessions)}
            for name, row in told.items()
        }

    def _stepped(self, part: str, limits: Limits) -> Row | None:
        """None where the part was never flown level."""

        def lately(rows: Rows) -> dict[date, Row]:
            return {
                day: row
                for (device, name, day), row in rows.items()
                if (device, name) == (self.device_id, part) and is_within(day, self.as_of, limits)
            }

        moves, steps = lately(self.moves), lately(self.steps)
        if not moves:
            return None
        least = limits["neutral_step_students"]
        is_told = any(m["student_count"] >= least for m in moves.values())
        since = max(steps, default=None)
        value = steps[since]["step"] if since else 0
        reason = None if is_told else f"no day with {least:.0f} students on both sides of it"
        row = _check(value if is_told else None, "of travel", limits["neutral_step"], reason)
        return {**row, "since_date": since}

    def _resolutions(self, limits: Limits) -> dict[str, Row]:
        told = {}
        for name, column, unit, limit in (
            ("altitude", "altitude_ft", "ft", "altitude_coarse_ft"),
            ("heading", "heading_deg", "deg", "heading_coarse_deg"),
            ("pitch_control", "pitch_control", "of travel", "control_coarse"),
        ):
            steps = [r for s in self.sessions if (r := resolution_of(s, column)) is not None]
            if steps:
                told[f"{name} in steps of"] = _check(statistics.median(steps), unit, limits[limit])
        return told


def _check(value: float | None, unit: str, bound: float, reason: str | None = None) -> Row:
    return {
        "value": value,
        "unit": unit,
        "bound": bound,
        "is_well": None if value is None else abs(value) <= bound,
        "since_date": None,
        "device_reason": reason,
    }
