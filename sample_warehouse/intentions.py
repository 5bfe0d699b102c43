"""From a story to what a student does in one session: what is aimed at, what is left untrimmed, which habits.

A student who should hold 1.5 times the tolerance is content with being that far off for a while; the
flight then follows as an aeroplane can. The two factors below were fitted once, on these flights,
so that the flown 95 % band has the intended width.
"""

import numpy as np

from sample_warehouse.flight import Lanes
from sample_warehouse.pilot import Habits
from sample_warehouse.school import STAGE_TOLERANCES, Skill
from sample_warehouse.timetable import Session

ALTITUDE_AIM_PER_BAND = 0.88
HEADING_AIM_PER_BAND = 0.86
ALTITUDE_MEMORY_S, HEADING_MEMORY_S = 70.0, 22.0
ALTITUDE_LAG_S = 15.0
DAY_SCATTER = 0.16  # natural logarithm: one day is 16 % wider or narrower than another
SLOW_TRIMMER = 1.2  # a trim skill beyond this goes with trimming late


def skill_at(skill: Skill, progress: float) -> float:
    """A skill on the way from its first to its last value, in equal steps of ratio."""
    first, last = skill
    return float(first * (last / first) ** progress)


def aims(session: Session, draw: np.random.Generator, seconds: int) -> tuple[Lanes, Lanes]:
    """How far beside the target the student is content to be, each second: feet, radians."""
    story = session.story
    altitude_ft, heading_deg = STAGE_TOLERANCES[story.stage]
    day = np.exp(draw.normal(0.0, DAY_SCATTER, 2))
    band_ft = altitude_ft * skill_at(story.altitude, session.progress) * day[0]
    band_deg = heading_deg * skill_at(story.heading, session.progress) * day[1]
    altitude = ALTITUDE_AIM_PER_BAND * band_ft * _wander(draw, seconds, ALTITUDE_MEMORY_S)
    heading = HEADING_AIM_PER_BAND * band_deg * _wander(draw, seconds, HEADING_MEMORY_S)
    return altitude + ALTITUDE_LAG_S * np.gradient(altitude), np.radians(heading)


def held_by_leg(session: Session, draw: np.random.Generator) -> Lanes:
    """The stick a student leaves untrimmed in each leg, in travel; none where the instructor flies."""
    story, legs = session.story, session.legs
    day = float(np.exp(draw.normal(0.0, DAY_SCATTER)))
    size = 0.05 * skill_at(story.trim, session.progress) * day * (0.3 if story.lets_go else 1.0)
    either = draw.choice([-1, 1], len(legs))
    side = np.full(len(legs), story.trim_side) if story.trim_side else either
    flown = np.array([not leg.instructor_flies for leg in legs])
    return np.asarray(size * side * flown * draw.uniform(0.8, 1.2, len(legs)))


def habits(sessions: list[Session], draws: list[np.random.Generator], step_s: float) -> Habits:
    """The habits of each session's student, one lane each."""
    stories = [session.story for session in sessions]
    reaction_s, dwell_s, start, wait_s = np.array(
        [draw.uniform([0.3, 0.6, 0.0, 8.0], [0.8, 1.0, 4.0, 16.0]) for draw in draws]
    ).T
    lets_go = np.array([story.lets_go for story in stories])
    is_late = np.array(
        [s.story.chases or skill_at(s.story.trim, s.progress) > SLOW_TRIMMER for s in sessions]
    )
    return Habits(
        reaction_steps=np.round(reaction_s / step_s).astype(np.int64),
        dwell_s=dwell_s,
        scan_start=start,
        trim_wait_s=wait_s * np.where(is_late, 2.5, 1.0),
        trim_dead=np.where(lets_go, 0.009, 0.016),
        lets_go=lets_go,
        chases=np.array([story.chases for story in stories]),
        hand_noise=np.where(lets_go, 0.006, 0.010),
    )


def _wander(draw: np.random.Generator, seconds: int, memory_s: float) -> Lanes:
    """A slow wander, one value per second, of unit root mean square over the session.

    Students settle high or low for a while more than they sweep through: steep, and off to a side.
    """
    values, first, second = np.empty(seconds), 0.0, 0.0
    keep = float(np.exp(-1.0 / memory_s))
    settle = round(4 * memory_s)
    for index, shock in enumerate(draw.standard_normal(seconds + settle)):
        first = keep * first + shock
        second = keep * second + first
        if index >= settle:
            values[index - settle] = second
    values = np.tanh(2.5 * values / np.std(values) + draw.choice([-0.8, 0.8]))
    return np.asarray(values / np.sqrt(np.mean(values**2)))
