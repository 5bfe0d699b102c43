"""Where each flight stands in its lesson: the present leg, and the tasks as they were flown."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_warehouse.flight import Lanes
from sample_warehouse.lessons import SESSION_S
from sample_warehouse.pilot import wrapped
from sample_warehouse.timetable import Session

LEAST_TASK_S = 5.0
LEAST_TURN_S = 8.0
ROLLED_OUT_RAD = float(np.radians(4.0))
LEAD_SHARE = 0.1  # a level-off is led by a tenth of the rate (FAA-H-8083-15, attitude flying)


@dataclass(frozen=True)
class Task:
    """One assigned task as flown: the seconds it took, and its targets."""

    start_s: int
    end_s: int
    kind: str
    target_altitude_ft: float
    target_heading_deg: float
    flown_by: str


class Progress:
    """The legs of every lane as tables, and which one each lane is in."""

    def __init__(self, sessions: list[Session]) -> None:
        self.sessions = sessions
        most = max(len(session.legs) for session in sessions)
        padded = [[*s.legs, *[s.legs[-1]] * (most - len(s.legs))] for s in sessions]

        def table(value: str) -> Lanes:
            return np.array([[float(getattr(leg, value)) for leg in legs] for legs in padded])

        kinds = np.array([[leg.kind for leg in legs] for legs in padded])
        self.is_climb, self.is_turn = kinds == "climb", kinds == "turn"
        self.is_vertical = self.is_climb | (kinds == "descent")
        self.longest_s, self.altitude_ft = table("longest_s"), table("altitude_ft")
        self.heading_rad, self.power = np.radians(table("heading_deg")), table("power")
        self.by_instructor = table("instructor_flies") > 0
        self.leg = np.zeros(len(sessions), dtype=np.int64)
        self.started_s = np.zeros(len(sessions))
        self.starts: list[list[float]] = [[0.0] for _ in sessions]

    @property
    def most_legs(self) -> int:
        """The number of legs that the tables hold."""
        return int(self.longest_s.shape[1])

    def padded(self, values: list[Lanes]) -> Lanes:
        """One value per leg of each session as a table; the last one repeats where legs are fewer."""
        return np.array([np.pad(v, (0, self.most_legs - len(v)), mode="edge") for v in values])

    @property
    def at(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The place of each lane's present leg in the tables."""
        return np.arange(len(self.leg)), self.leg

    def move_on(self, now_s: float, to_go_ft: Lanes, rate_fpm: Lanes, heading: Lanes) -> None:
        """Begin the next leg wherever the time is up or the target of the present one is reached."""
        at, leg_s = self.at, now_s - self.started_s
        lead_ft = np.maximum(LEAD_SHARE * np.abs(rate_fpm), 25.0)
        reached = self.is_vertical[at] & (np.abs(to_go_ft) < lead_ft)
        off_heading = np.abs(wrapped(heading - self.heading_rad[at]))
        reached |= self.is_turn[at] & (off_heading < ROLLED_OUT_RAD) & (leg_s > LEAST_TURN_S)
        is_over = (leg_s >= self.longest_s[at]) | reached
        for lane in np.flatnonzero(is_over & (self.leg < self.most_legs - 1)):
            self.leg[lane] += 1
            self.started_s[lane] = now_s
            self.starts[lane].append(now_s)

    def tasks(self, lane: int) -> tuple[Task, ...]:
        """The tasks that one lane's student was given, with the seconds as flown."""
        starts = self.starts[lane]
        ends = [*starts[1:], SESSION_S - 1.0]
        return tuple(
            Task(
                start_s=round(start_s),
                end_s=round(end_s),
                kind=leg.kind,
                target_altitude_ft=leg.altitude_ft,
                target_heading_deg=leg.heading_deg,
                flown_by="instructor" if leg.instructor_flies else "student",
            )
            for leg, start_s, end_s in zip(self.sessions[lane].legs, starts, ends, strict=False)
            if leg.kind != "between" and end_s - start_s >= LEAST_TASK_S
        )
