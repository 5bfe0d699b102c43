"""Invented students with a known truth: what a session of theirs would have measured.

`ln ratio = truth(session) + day + device + maneuver noise`. The scales are assumptions, no
measurements: nothing published tells how much one person's hold differs from day to day.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DAYS = 84
STEADY = (0.4, 0.6, 0.8, 0.95, 1.2, 1.5, 2.0)
MOST_SESSIONS = 40
LOOK_AHEAD = 31


@dataclass(frozen=True)
class World:
    """What is assumed. Spreads are standard deviations of the natural logarithm of a ratio."""

    day_sd: float = 0.30
    within_sd: float = 0.40
    bad_share: float = 0.04
    bad_factor: float = 2.2
    scatter_sd: float = 0.25  # students' day-to-day scatters differ by this
    device_sd: float = 0.0
    devices: int = 4
    random_students: int = 16
    random_median: float = 0.85
    random_sd: float = 0.40
    steady: tuple[float, ...] = STEADY
    learners: int = 3
    learning: float = 0.35
    learning_sd: float = 0.10
    learning_form: str = "power"  # or "exponential", or "stalls": a power law that stops
    slippers: int = 2
    steppers: int = 2
    sessions_per_week: tuple[float, float] = (1.0, 4.0)
    maneuvers: tuple[int, int] = (2, 8)
    trim_truth: str = ""  # for held control: is the truth its "median" or its "mean"?

    def but(self, **changes: object) -> "World":
        """The same world with some assumptions changed."""
        return replace(self, **changes)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Cohorts:
    """Arrays over cohorts, students and sessions; sessions beyond `counts` are NaN or 0."""

    kind: list[str]  # one per student: "random", "steady 0.6", "learner", "slipping", "step"
    counts: Ints  # sessions of each student
    day: Ints  # day of each session, from 0
    device: Ints
    truth: Floats  # ln ratio, without day, device and noise
    course: Floats  # the same, on into sessions that were not flown
    maneuvers: Ints
    figure: Floats  # the session's ln ratio as measured
    squares: Floats  # scatter within the session
    made: Floats = field(repr=False)  # every maneuver's ln ratio (for the database), NaN beyond

    @property
    def flown(self) -> Bools:
        """Which sessions there are."""
        places: Bools = np.arange(self.day.shape[2]) < self.counts[:, :, None]
        return places


def make_cohorts(world: World, count: int, seed: int) -> Cohorts:
    """`count` cohorts of the world, reproducible from the seed."""
    rng = np.random.default_rng(seed)
    kind = _kinds(world)
    shape = (count, len(kind), MOST_SESSIONS)
    day, counts = _timetable(world, rng, shape)
    course = _truths(world, kind, rng, (*shape[:2], MOST_SESSIONS + LOOK_AHEAD))
    truth = course[:, :, :MOST_SESSIONS]
    flown = np.arange(MOST_SESSIONS) < counts[:, :, None]
    maneuvers = rng.integers(world.maneuvers[0], world.maneuvers[1] + 1, shape)
    device = rng.integers(0, world.devices, shape)
    offsets = rng.normal(0, 1, (count, world.devices)) * world.device_sd
    on_device = np.take_along_axis(offsets[:, None, :], device, axis=2)
    scatter = np.exp(rng.normal(0, world.scatter_sd, shape[:2]))[:, :, None]
    days = _days(world, rng, shape, scatter)
    centre = truth + on_device + days
    made, figure, squares = _figures(world, rng, centre, maneuvers)
    return Cohorts(
        kind=kind,
        counts=counts,
        day=day,
        device=device,
        truth=np.where(flown, truth, np.nan),
        course=course,
        maneuvers=np.where(flown, maneuvers, 0),
        figure=np.where(flown, figure, np.nan),
        squares=np.where(flown, squares, 0.0),
        made=made,
    )


def _kinds(world: World) -> list[str]:
    return (
        ["random"] * world.random_students
        + [f"steady {ratio:g}" for ratio in world.steady]
        + ["learner"] * world.learners
        + ["slipping"] * world.slippers
        + ["step"] * world.steppers
    )


def _timetable(
    world: World, rng: np.random.Generator, shape: tuple[int, int, int]
) -> tuple[Ints, Ints]:
    """At most one session a day, at a rate of the student's own."""
    rate = rng.uniform(*world.sessions_per_week, shape[:2])[:, :, None] / 7
    is_flown = rng.random((*shape[:2], DAYS)) < rate
    counts = np.minimum(is_flown.sum(axis=2), shape[2])
    order = np.argsort(~is_flown, axis=2, kind="stable")[:, :, : shape[2]]
    return np.where(np.arange(shape[2]) < counts[:, :, None], order, DAYS), counts


def _truths(
    world: World, kind: list[str], rng: np.random.Generator, shape: tuple[int, int, int]
) -> Floats:
    truth = np.zeros(shape)
    session = np.arange(1, shape[2] + 1)
    for place, name in enumerate(kind):
        many = (shape[0], 1)
        if name == "random":
            level = np.log(world.random_median) + rng.normal(0, world.random_sd, many)
            truth[:, place] = level
        elif name.startswith("steady"):
            truth[:, place] = np.log(float(name.split()[1]))
        elif name == "learner":
            truth[:, place] = _learning(world, rng, many, session)
        elif name == "slipping":
            truth[:, place] = np.log(0.6) + np.log(1.09) * np.maximum(session - 6, 0)
        elif name == "step":
            first = rng.integers(5, 12, many)
            truth[:, place] = np.log(0.6) + np.log(2.5) * (session >= first)
    return truth


def _learning(
    world: World, rng: np.random.Generator, many: tuple[int, int], session: Ints
) -> Floats:
    start = np.log(2.0) + rng.normal(0, 0.15, many)
    rate = np.maximum(rng.normal(world.learning, world.learning_sd, many), 0.05)
    if world.learning_form == "exponential":
        reached = start - 2.2 * rate * (1 - np.exp(-(session - 1) / 6))
        return np.asarray(reached)
    if world.learning_form == "stalls":
        stop = rng.integers(4, 9, many)
        return np.asarray(start - rate * np.log(np.minimum(session, stop)))
    return np.asarray(start - rate * np.log(session))


def _days(
    world: World, rng: np.random.Generator, shape: tuple[int, int, int], scatter: Floats
) -> Floats:
    """How a day differs from the truth: heavy tails, and a few plainly bad days."""
    tails = rng.standard_t(5, shape) / np.sqrt(5 / 3) * world.day_sd
    bad = rng.random(shape) < world.bad_share
    return np.asarray(tails * scatter + bad * np.log(world.bad_factor))


def _figures(
    world: World, rng: np.random.Generator, centre: Floats, maneuvers: Ints
) -> tuple[Floats, Floats, Floats]:
    """Every maneuver's ln ratio, and each session's figure and squares."""
    most = world.maneuvers[1]
    noise = rng.normal(0, 1, (*centre.shape, most))
    is_made = np.arange(most) < maneuvers[..., None]
    if world.trim_truth:
        made = _held(world, rng, centre, noise)
        held = np.where(is_made, np.exp(made), 0.0).sum(axis=-1) / maneuvers
        return np.where(is_made, made, np.nan), np.log(np.maximum(held, 0.25)), 0 * centre
    made = centre[..., None] + noise * world.within_sd
    made = np.maximum(made, np.log(0.05))
    figure = np.where(is_made, made, 0.0).sum(axis=-1) / maneuvers
    squares = np.where(is_made, (made - figure[..., None]) ** 2, 0.0).sum(axis=-1)
    return np.where(is_made, made, np.nan), figure, squares


def _held(world: World, rng: np.random.Generator, centre: Floats, noise: Floats) -> Floats:
    """|held control| against its limit: from a steady pull to holding that changes sign.

    The trim ratio estimates the mean of the absolute value, which lies up to 12 % above its median.
    """
    steadiness = rng.uniform(0.5, 1, (*centre.shape[:2], 1, 1))
    size = np.exp(centre)[..., None]
    shift, spread = steadiness, np.sqrt(1 - 0.75 * steadiness**2)
    middle = np.median if world.trim_truth == "median" else np.mean
    typical = middle(np.abs(shift + spread * rng.normal(0, 1, (*centre.shape[:2], 1, 999))), -1)
    held = np.abs(shift + spread * noise) / typical[..., None] * size
    return np.asarray(np.log(np.maximum(held, 1e-6)))
