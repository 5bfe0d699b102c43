"""Flights that hypothesis makes up: any rate, gaps, slow and missing channels, north crossings, revisions,
clocks that begin before the session.

What is drawn is the shape of a flight; the noise on it comes from a drawn seed. Lengths are short and the
limits that go with them (`SHORT_LIMITS`) are too, so that everything that can happen happens in two minutes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pyarrow as pa
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.flights import Log, Task, Value, stored_tables

SHORT_LIMITS = {
    "scored_minimum_s": 20.0,
    "neutral_minimum_students": 1.0,
    "settle_hold_s": 6.0,
    "set_hold_s": 9.0,
    "hands_off_minimum_s": 8.0,
    "pause_s": 1000.0,
}

Floats = NDArray[np.float64]
USUAL = settings(
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
"""Settings of laws over these flights: the same ones each time; making them smaller would take minutes."""

THOROUGH = settings(USUAL, derandomize=False, database=None)
"""Other flights each time."""

KINDS = ("level", "level_off", "power_change", "turn", "climb", "descent")
USUAL_KINDS = ("level", "level", "level_off", "power_change")


def own_limits(limits: Mapping[str, float] = SHORT_LIMITS) -> pa.Table:
    """Settings of a school's own, as the relation `own_limits`."""
    rows = [{"name": n, "value": v} for n, v in limits.items()]
    schema = pa.schema([("name", pa.string()), ("value", pa.float64())])
    return pa.Table.from_pylist(rows, schema=schema)


@st.composite
def sample_times(draw: st.DrawFn) -> list[int]:
    """Milliseconds of a log's samples: 20 Hz to one in 4 s, steady, uneven or of two rates, with gaps."""
    length_ms = draw(st.sampled_from([45_000, 70_000, 100_000]))
    step_ms = draw(st.sampled_from([50, 100, 200, 250, 500, 1000, 1000, 1000, 1500, 2000, 4000]))
    if step_ms < 200:
        length_ms = 45_000
    times = list(range(draw(st.sampled_from([0, 0, 300])), length_ms, step_ms))
    pattern = draw(st.sampled_from(["steady", "steady", "uneven", "two rates"]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    if pattern == "uneven":
        times = [t + int(rng.integers(0, max(step_ms // 2, 1))) for t in times]
    elif pattern == "two rates":
        times = [t for i, t in enumerate(times) if t < length_ms // 2 or i % 4 == 0]
    for _ in range(draw(st.integers(0, 2))):
        start = draw(st.integers(0, length_ms))
        end = start + draw(st.sampled_from([1000, 1600, 2500, 6000, 15_000]))
        times = [t for t in times if not start < t < end]
    return times[: draw(st.sampled_from([len(times)] * 8 + [0, 1, 2]))] or [0]


@dataclass(frozen=True)
class Shape:
    """What a flight does, drawn; the rest is noise."""

    target_ft: float
    target_deg: float
    neutral: float
    seed: int
    swing_ft: float
    bias_ft: float
    turn_deg_per_s: float
    grain_ft: float
    settles_s: float


shapes = st.builds(
    Shape,
    target_ft=st.sampled_from([4000.0, 2500.0, 3000.1]),
    target_deg=st.sampled_from([90.0, 0.0, 359.0, 1.5, 180.0]),
    neutral=st.sampled_from([0.0, 0.03, -0.12]),
    seed=st.integers(0, 2**32 - 1),
    swing_ft=st.sampled_from([0.0, 20.0, 90.0, 250.0, 500.0]),
    bias_ft=st.sampled_from([0.0, 60.0, -150.0]),
    turn_deg_per_s=st.sampled_from([0.0, 0.0, 0.05, -3.0]),
    grain_ft=st.sampled_from([0.0, 0.0, 0.125, 1.0, 25.0]),
    settles_s=st.sampled_from([5.0, 15.0, 1000.0]),
)


def signals(shape: Shape, times: list[int]) -> dict[str, Floats]:
    """Every channel of a flight of this shape at these times."""
    rng = np.random.default_rng(shape.seed)
    t = np.array(times) / 1000
    noise = rng.normal(0, 1, (8, len(t)))
    calm = np.exp(-t / shape.settles_s)
    period = 24 + rng.uniform(-4, 12)
    swing = shape.swing_ft * (0.1 + calm)
    altitude = shape.target_ft + shape.bias_ft * calm + swing * np.sin(2 * np.pi * t / period)
    if shape.grain_ft:
        altitude = np.round(altitude / shape.grain_ft) * shape.grain_ft
    speed = 60 * swing * 2 * np.pi / period * np.cos(2 * np.pi * t / period) + 15 * noise[0]
    wander = np.cumsum(noise[1]) * 0.4
    hand = 0.3 * calm * np.sin(t / 3 + rng.uniform(0, 6)) + 0.004 * noise[2]
    trim_steps = np.where(rng.uniform(0, 1, len(t)) < 0.03, rng.normal(0, 0.08, len(t)), 0) * calm
    return {
        "altitude_ft": altitude,
        "heading_deg": np.mod(shape.target_deg + shape.turn_deg_per_s * t + wander, 360),
        "vertical_speed_fpm": speed,
        "airspeed_kt": 100 + 8 * np.sin(t / 17) + noise[3],
        "bank_deg": 3 * noise[4],
        "pitch_control": np.clip(shape.neutral + hand, -1, 1),
        "roll_control": np.clip(0.1 * noise[5], -1, 1),
        "pitch_force": 40 * hand,
        "pitch_trim": np.clip(np.cumsum(trim_steps), -1, 1),
        "power": 0.6 + 0.05 * np.sin(t / 40),
    }


def _recorded(values: Floats, manner: str, rng: np.random.Generator) -> list[Value]:
    """The cells that a recorder leaves of a channel: all, none, every few, or with drop-outs."""
    cells: list[Value] = [float(v) for v in np.asarray(values, np.float32)]
    keep = np.ones(len(cells), bool)
    if manner.startswith("every"):
        every, offset = int(manner.split()[1]), int(manner.split()[2])
        keep = np.arange(len(cells)) % every == offset
    elif manner == "drop-outs":
        keep = rng.uniform(0, 1, len(cells)) < 0.9
    elif manner == "none":
        keep[:] = False
    return [c if k else None for c, k in zip(cells, keep, strict=True)]


MANNERS = st.sampled_from(
    [*["all"] * 6, "none", "every 2 0", "every 3 1", "every 10 4", "drop-outs"]
)


@st.composite
def task_lists(draw: st.DrawFn, shape: Shape, length_s: float) -> list[Task]:
    """Tasks one after another over a log, edges on samples or between them."""
    tasks: list[Task] = []
    start = draw(st.sampled_from([0.0, 0.0, 2.3, 10.0]))
    while start < length_s - 5 and len(tasks) < 4:
        end = round(start + draw(st.sampled_from([20.0, 20.1, 31.5, 60.0, 90.0])), 3)
        offset = draw(st.sampled_from([0.0, 0.0, 3.0, -170.0, 180.0]))
        target_deg = (shape.target_deg + offset) % 360
        task = Task(
            start,
            end,
            kind=draw(st.sampled_from(USUAL_KINDS + KINDS)),
            target_altitude_ft=draw(st.sampled_from([shape.target_ft] * 5 + [None])),
            target_heading_deg=draw(st.sampled_from([target_deg] * 5 + [None])),
            flown_by=draw(st.sampled_from(["student"] * 6 + ["instructor"])),
        )
        tasks.append(task)
        start = round(end + draw(st.sampled_from([0.0, 0.0, 0.1, 4.0])), 3)
    return tasks


def _earlier(task: Task, by_s: float) -> Task:
    """The same task in a log whose recorder began before the session."""
    start_s, end_s = round(task.start_s - by_s, 3), round(task.end_s - by_s, 3)
    return replace(task, start_s=start_s, end_s=end_s)


@st.composite
def logs(draw: st.DrawFn, session_id: str = "S1") -> Log:
    """One session's log."""
    shape, times = draw(shapes), draw(sample_times())
    rng = np.random.default_rng(shape.seed + 1)
    made = signals(shape, times)
    values: dict[str, list[Value]] = {
        name: _recorded(channel, draw(MANNERS), rng) for name, channel in made.items()
    }
    for switch in ("autopilot", "on_ground"):
        if draw(st.sampled_from([False, False, False, True])):
            start = draw(st.integers(0, len(times)))
            end = start + draw(st.sampled_from([0, 5, 40]))
            values[switch] = [start <= i < end for i in range(len(times))]
    tasks = draw(task_lists(shape, times[-1] / 1000))
    early_ms = draw(st.sampled_from([0, 0, 0, 30_400]))
    return Log(
        [t - early_ms for t in times],
        values,
        [_earlier(task, early_ms / 1000) for task in tasks],
        session_id=session_id,
        student_id=draw(st.sampled_from(["TH01", "TH02", "TH03"])),
        device_id=draw(st.sampled_from(["SIM-1", "SIM-1", "SIM-2", None])),
        session_date=date(2026, 3, 14) + timedelta(days=draw(st.sampled_from([0, 0, 1, 100]))),
    )


DEVICE_LISTS: st.SearchStrategy[tuple[Mapping[str, Any], ...]] = st.sampled_from(
    [
        (),
        ({"device_id": "SIM-2", "control": "free"},),
        (
            {"device_id": "SIM-1", "control": "free", "valid_from": date(2026, 1, 1)},
            {"device_id": "SIM-1", "control": "centring", "valid_from": date(2026, 3, 15)},
        ),
        (
            {"device_id": "SIM-1", "control": "free", "valid_from": date(2026, 3, 1)},
            {
                "device_id": "SIM-1",
                "control": "centring",
                "valid_from": date(2026, 3, 1),
                "batch_id": "b20260302T020000Z-000000",
            },
        ),
    ]
)


REVIEW_LISTS: st.SearchStrategy[tuple[Mapping[str, Any], ...]] = st.sampled_from(
    [
        (),
        (),
        ({"kind": "withdraw", "session_id": "S0"},),
        ({"kind": "reassign", "session_id": "S0", "student_id": "TH09"},),
        ({"kind": "set-aside", "maneuver_id": "S0.1.01"},),
    ]
)


@dataclass(frozen=True)
class School:
    """Some logs with the device list and the reviews that go with them."""

    logs: tuple[Log, ...]
    devices: tuple[Mapping[str, Any], ...] = ()
    reviews: tuple[Mapping[str, Any], ...] = ()

    def tables(self) -> dict[str, pa.Table]:
        """Its store."""
        return stored_tables(self.logs, self.devices, self.reviews)

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:  # noqa: ANN401 (hypothesis')
        """How hypothesis shows it."""
        del cycle
        printer.text(f"School({self.logs}, devices={self.devices}, reviews={self.reviews})")


@st.composite
def schools(draw: st.DrawFn, most: int = 3) -> School:
    """A few sessions, some in two revisions, flown on listed and unlisted devices."""
    found: list[Log] = []
    for i in range(draw(st.integers(1, most))):
        log = draw(logs(session_id=f"S{i}"))
        found.append(log)
        if draw(st.sampled_from([False, False, True])):
            again = draw(logs(session_id=f"S{i}"))
            found.append(replace(again, revision=2, session_date=log.session_date))
    return School(tuple(found), draw(DEVICE_LISTS), draw(REVIEW_LISTS))
