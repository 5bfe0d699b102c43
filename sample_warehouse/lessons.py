"""What a student is asked to do in one session: a list of legs, most of them tasks."""

from dataclasses import dataclass

import numpy as np

SESSION_S = 600.0
TASK_KINDS = ("level", "level_off", "power_change", "turn", "climb", "descent")
LESSONS = ("straight and level", "climb and level-off", "power changes", "descent and level-off")
HEADINGS_DEG = (
    355.0,
    5.0,
    360.0,
    350.0,
    10.0,
    345.0,
    15.0,
    45.0,
    90.0,
    135.0,
    180.0,
    225.0,
    270.0,
    315.0,
)
FAST, CRUISE, SLOW, CLIMB, DESCEND = 0.75, 0.67, 0.59, 1.0, 0.40


@dataclass(frozen=True)
class Leg:
    """One thing to do. A climb, descent or turn may end early, when its target is reached."""

    kind: str  # a task kind, or `between` for the seconds that no task covers
    longest_s: float
    altitude_ft: float
    heading_deg: float
    power: float
    instructor_flies: bool = False


# Each step: kind, longest seconds, change of altitude, change of heading, power (None: as before).
Step = tuple[str, float, float, float, float | None]
PLANS: dict[str, tuple[Step, ...]] = {
    "straight and level": (
        ("between", 12, 0, 0, CRUISE),
        ("level", 125, 0, 0, None),
        ("turn", 40, 0, 30, None),
        ("between", 5, 0, 0, None),
        ("level", 120, 0, 0, None),
        ("turn", 40, 0, -40, None),
        ("between", 5, 0, 0, None),
        ("level", 110, 0, 0, None),
        ("power_change", 128, 0, 0, SLOW),
    ),
    "climb and level-off": (
        ("between", 12, 0, 0, CRUISE),
        ("level", 95, 0, 0, None),
        ("climb", 70, 500, 0, CLIMB),
        ("level_off", 125, 0, 0, CRUISE),
        ("between", 4, 0, 0, None),
        ("level", 80, 0, 0, None),
        ("turn", 40, 0, -45, None),
        ("between", 5, 0, 0, None),
        ("level", 80, 0, 0, None),
        ("descent", 70, -500, 0, DESCEND),
    ),
    "power changes": (
        ("between", 12, 0, 0, CRUISE),
        ("level", 90, 0, 0, None),
        ("power_change", 125, 0, 0, SLOW),
        ("between", 3, 0, 0, None),
        ("level", 80, 0, 0, None),
        ("turn", 40, 0, 40, None),
        ("between", 5, 0, 0, None),
        ("level", 85, 0, 0, None),
        ("power_change", 125, 0, 0, FAST),
    ),
    "descent and level-off": (
        ("between", 12, 0, 0, FAST),
        ("level", 85, 0, 0, None),
        ("descent", 70, -500, 0, DESCEND),
        ("level_off", 125, 0, 0, SLOW),
        ("between", 3, 0, 0, None),
        ("level", 75, 0, 0, None),
        ("power_change", 120, 0, 0, CRUISE),
        ("turn", 35, 0, -30, None),
        ("between", 4, 0, 0, None),
        ("level", 66, 0, 0, None),
    ),
}


def legs_of(
    lesson: str, draw: np.random.Generator, instructor_shows: bool = False
) -> tuple[Leg, ...]:
    """The legs of one session. With `instructor_shows`, the instructor flies the first level task."""
    altitude = 500.0 * float(draw.integers(5, 10))
    heading = HEADINGS_DEG[int(draw.integers(len(HEADINGS_DEG)))]
    side = 1.0 if draw.random() < 0.5 else -1.0
    power, shown, legs = CRUISE, not instructor_shows, []
    for kind, longest_s, climb_ft, turn_deg, new_power in PLANS[lesson]:
        altitude, power = altitude + climb_ft, power if new_power is None else new_power
        heading = (heading + side * turn_deg - 1) % 360 + 1  # 1 .. 360: north is 360
        by_instructor = kind == "level" and not shown
        shown = shown or by_instructor
        legs.append(Leg(kind, longest_s, altitude, heading, power, by_instructor))
    return (*legs, Leg("between", SESSION_S, altitude, heading, max(power, SLOW)))
