"""Who flew when, on what, in which air: the school's sessions as plans that can be flown."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from sample_warehouse.lessons import LESSONS, Leg, legs_of
from sample_warehouse.school import (
    AEROPLANE,
    DEVICES,
    FIRST_DAY,
    LAST_DAY,
    STORIES,
    UTC_OFFSET,
    WAITING_DAY,
    Device,
    Story,
)

SEED = 20260328
INSTRUCTORS = ("I1", "I2", "I3")
SIMULATORS = tuple(device for device in DEVICES if device.device_class == "simulator")
WAITING_STUDENTS = ("TH01", "TH02", "TH05", "TH06", "TH07", "TH15", "TH20", "TH24")
REFUSED_STUDENTS = ("TH03", "TH04", "TH08", "TH11", "TH13", "TH16")


@dataclass(frozen=True)
class Session:
    """One session as planned: enough to fly it and to write its row."""

    session_id: str
    story: Story
    device: Device
    day: date
    started_at: str
    instructor_id: str
    lesson: str
    air: str
    progress: float  # 0 at the first day of the eight weeks, 1 at the last
    heavy_wing: float
    has_stuck_gyro: bool
    seed: tuple[int, ...]
    legs: tuple[Leg, ...]


def history(stories: tuple[Story, ...] = STORIES) -> list[Session]:
    """The sessions of the first eight weeks, in order of time."""
    flown = [
        session for number, story in enumerate(stories) for session in _sessions_of(number, story)
    ]
    return _numbered(flown)


def waiting() -> list[Session]:
    """The sessions of the last night, in order of time: the sound ones, then those whose files are bad."""
    by_id = {story.student_id: (number, story) for number, story in enumerate(STORIES)}
    students = [by_id[student_id] for student_id in WAITING_STUDENTS + REFUSED_STUDENTS]
    day = date.fromisoformat(WAITING_DAY)
    sessions = [
        _session(number, story, story.sessions, day, _device(number, story, 0))
        for number, story in students
    ]
    return _numbered(sessions)


def _sessions_of(number: int, story: Story) -> list[Session]:
    first = max(date.fromisoformat(FIRST_DAY), date.fromisoformat(story.start_date))
    last = date.fromisoformat(story.last_seen or story.left_on or LAST_DAY)
    days = _days(number, story, first, last)
    # The latest session is what a page shows first: in the aeroplane only for who flies it most.
    latest = len(days) - (1 if 2 * story.aeroplane_sessions > len(days) else 2)
    places = np.linspace(1, latest, story.aeroplane_sessions).round().astype(int)
    aeroplane = next(device for device in DEVICES if device.device_id == AEROPLANE)
    return [
        _session(
            number, story, turn, day, aeroplane if turn in places else _device(number, story, turn)
        )
        for turn, day in enumerate(days)
    ]


def _days(number: int, story: Story, first: date, last: date) -> list[date]:
    """Training days, spread evenly with a little scatter; never a Sunday."""
    draw = np.random.default_rng([SEED, number, 1])
    room = (last - first).days
    places = (np.arange(story.sessions) + draw.uniform(0.15, 0.85, story.sessions)) / story.sessions
    days = [first + timedelta(days=int(place * (room + 1))) for place in places]
    return [day - timedelta(days=1) if day.weekday() == 6 else day for day in days]


def _device(number: int, story: Story, turn: int) -> Device:
    """Students move round the simulators, so that a device's fault can be told from a person's."""
    if story.favourite_device and turn % 4 != 3:
        return next(device for device in DEVICES if device.device_id == story.favourite_device)
    return SIMULATORS[(number // 3 + turn) % len(SIMULATORS)]


def _session(number: int, story: Story, turn: int, day: date, device: Device) -> Session:
    seed = (SEED, number, 2, turn)
    draw = np.random.default_rng(seed)
    lesson = LESSONS[turn % len(LESSONS)] if turn < 4 else LESSONS[int(draw.integers(len(LESSONS)))]
    calm, rough = 1.0 - story.rough_share, story.rough_share
    chances = [0.8 * calm, 0.2 * calm, 0.6 * rough, 0.4 * rough]
    air = str(draw.choice(["smooth", "light", "moderate", "rough"], p=chances))
    shown = story.stage == "first-lessons" and turn == 0
    span = (date.fromisoformat(LAST_DAY) - date.fromisoformat(FIRST_DAY)).days
    return Session(
        session_id="",
        story=story,
        device=device,
        day=day,
        started_at="",
        instructor_id=INSTRUCTORS[int(draw.integers(len(INSTRUCTORS)))],
        lesson=lesson,
        air=air,
        progress=min(1.0, (day - date.fromisoformat(FIRST_DAY)).days / span),
        heavy_wing=0.07 if story.heavy_wing_session and turn == story.heavy_wing_session else 0.0,
        has_stuck_gyro=bool(story.stuck_gyro_session) and turn == story.stuck_gyro_session,
        seed=seed,
        legs=legs_of(lesson, draw, instructor_shows=shown),
    )


def _numbered(sessions: list[Session]) -> list[Session]:
    """The same sessions in order of time, each with an identifier and a free slot on its device."""
    slots: Counter[tuple[date, str]] = Counter()
    ordinals: Counter[date] = Counter()
    numbered = []
    for session in sorted(sessions, key=lambda item: (item.day, item.story.student_id)):
        ordinals[session.day] += 1
        slot = slots[session.day, session.device.device_id]
        slots[session.day, session.device.device_id] += 1
        minute = 8 * 60 + 25 * slot + 5 * (ordinals[session.day] % 4)
        numbered.append(
            replace(
                session,
                session_id=f"s{session.day:%Y%m%d}-{ordinals[session.day]:02d}",
                started_at=f"{session.day}T{minute // 60:02d}:{minute % 60:02d}:00{UTC_OFFSET}",
            )
        )
    return numbered
