"""The Tarn Hollow school on paper: who learns there, on what, and what each student's story is.

`STORIES` states the intention for every student in one table. A skill is the width the student
should hold, as a multiple of the tolerance of his or her stage (1 = the edge of the standard);
for trim it is the held control over 0.05 of travel. Two numbers mean from the first week to the last.
"""

from dataclasses import dataclass

FIRST_DAY = "2026-02-02"
LAST_DAY = "2026-03-27"
WAITING_DAY = "2026-03-28"
UTC_OFFSET = "+01:00"
OFF_CENTRE_DEVICE = "SIM-3"
AEROPLANE = "ACFT-1"


@dataclass(frozen=True)
class Device:
    """One device of the fleet and its quirks."""

    device_id: str
    device_class: str
    control: str
    aircraft_type: str
    stick_neutral: float = 0.0
    lift_to_drag: float = 9.5
    pitch_damping_s: float = 0.05
    needle_lag_s: float = 1.0


DEVICES = (
    Device("SIM-1", "simulator", "centring", "basic trainer", 0.004, 9.5, 0.05),
    Device("SIM-2", "simulator", "centring", "basic trainer", -0.003, 10.5, 0.09),
    Device(OFF_CENTRE_DEVICE, "simulator", "centring", "basic trainer", 0.06, 9.5, 0.05),
    Device("SIM-4", "simulator", "centring", "basic trainer", 0.0, 10.0, 0.07),
    Device(AEROPLANE, "aeroplane", "free", "light single", 0.0, 9.0, 0.08, 4.0),
)

# Altitude (ft) and heading (deg) of each stage's standard: see school.toml for the mapping.
STAGE_TOLERANCES = {
    "first-lessons": (200.0, 20.0),
    "solo": (150.0, 15.0),
    "private": (200.0, 20.0),
    "skill-test": (150.0, 10.0),
    "instrument": (100.0, 10.0),
}

Skill = tuple[float, float]


@dataclass(frozen=True)
class Story:
    """One student: who, which stage, how many sessions, and what the flying is meant to show."""

    student_id: str
    cohort: str
    start_date: str
    stage: str
    sessions: int
    story: str
    altitude: Skill = (0.5, 0.5)
    heading: Skill = (0.5, 0.5)
    trim: Skill = (0.35, 0.35)
    trim_side: int = 0  # +1 pulls, -1 pushes, 0 either way
    lets_go: bool = True
    chases: bool = False
    rough_share: float = 0.04
    aeroplane_sessions: int = 0
    favourite_device: str = ""
    heavy_wing_session: int = 0
    stuck_gyro_session: int = 0
    last_seen: str = ""  # the last day to fly on, where that is before the school's
    left_on: str = ""
    consent: bool = True


_WINTER, _AUTUMN = ("winter-2026", "2026-01-26"), ("autumn-2025", "2025-10-06")
_FIRST, _SOLO = (*_WINTER, "first-lessons"), (*_WINTER, "solo")
_PRIVATE, _TEST = (*_AUTUMN, "private"), (*_AUTUMN, "skill-test")
_RATING, _NEW = (*_AUTUMN, "instrument"), ("winter-2026", "2026-03-16", "first-lessons")

# fmt: off
STORIES = (
    Story("TH01", *_FIRST, 9, "steady", (0.45, 0.4), (0.45, 0.4)),
    Story("TH02", *_FIRST, 8, "poor in altitude", (1.8, 1.7), (0.55, 0.5)),
    Story("TH03", *_FIRST, 8, "poor in heading", (0.6, 0.55), (1.7, 1.6)),
    Story("TH04", *_FIRST, 8, "holds by muscle, pulling", trim=(1.9, 1.8), trim_side=1, lets_go=False),
    Story("TH05", *_FIRST, 10, "chases the needle", (0.4, 0.4), lets_go=False, chases=True, rough_share=0.0),
    Story("TH06", *_FIRST, 10, "improves in altitude", (2.2, 0.45), (0.6, 0.5)),
    Story("TH07", *_FIRST, 10, "slips back in altitude", (0.5, 2.0), (0.5, 0.6)),
    Story("TH08", *_FIRST, 8, "steady", (0.55, 0.5), trim=(0.6, 0.5), lets_go=False),
    Story("TH09", *_FIRST, 1, "one session only, then not seen", (0.9, 0.9), (0.8, 0.8),
          last_seen="2026-02-20"),
    Story("TH10", *_FIRST, 6, "weak, and left", (1.8, 1.7), (0.8, 0.8), left_on="2026-03-06"),
    Story("TH11", *_FIRST, 8, "steady; a heavy wing one day", (0.5, 0.45),
          aeroplane_sessions=1, heavy_wing_session=1),
    Story("TH12", *_SOLO, 9, "near the middle; a stuck gyro one day", (0.75, 0.7), (0.7, 0.65), (0.7, 0.6),
          lets_go=False, stuck_gyro_session=4),
    Story("TH13", *_PRIVATE, 8, "steady", (0.4, 0.35), (0.4, 0.35), aeroplane_sessions=2),
    Story("TH14", *_TEST, 9, "poor in heading, also across north", (0.55, 0.5), (1.9, 1.8)),
    Story("TH15", *_PRIVATE, 9, "holds by muscle, pushing", (0.4, 0.4), trim=(2.0, 1.8), trim_side=-1,
          lets_go=False),
    Story("TH16", *_RATING, 8, "steady", (0.65, 0.6), aeroplane_sessions=2, consent=False),
    Story("TH17", *_RATING, 8, "poor in altitude", (1.8, 1.7), (0.6, 0.6), lets_go=False),
    Story("TH18", *_PRIVATE, 9, "fine, on the off-centre stick", (0.45, 0.4),
          aeroplane_sessions=1, favourite_device=OFF_CENTRE_DEVICE),
    Story("TH19", *_PRIVATE, 8, "mostly rough air", rough_share=0.75),
    Story("TH20", *_PRIVATE, 10, "learns to trim", (0.4, 0.3), trim=(2.4, 0.4), trim_side=1, lets_go=False),
    Story("TH21", *_TEST, 9, "at the edge in altitude", (1.0, 1.0), (0.7, 0.7), (0.6, 0.6), lets_go=False),
    Story("TH22", *_PRIVATE, 9, "mostly in the aeroplane", (0.5, 0.45), (0.5, 0.45), aeroplane_sessions=6),
    Story("TH23", *_TEST, 9, "slips back in heading", (0.6, 0.6), (0.5, 2.2)),
    Story("TH24", *_NEW, 2, "new: too early to say", (0.8, 0.8), (0.8, 0.8)),
)
# fmt: on
