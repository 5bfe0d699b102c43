"""The flag rule once more, written for arrays of cohorts: fast, and independent of the SQL.

Tests hold it equal to the SQL, so that what the study says of thousands of students is true of
the relations. Names are those of the relations.
"""

from dataclasses import dataclass

import numpy as np

from pipeline import relations
from tests.simulation.fold import Folded, Limits, fold, trends
from tests.simulation.world import DAYS, Cohorts, Floats, Ints


def shipped_limits() -> Limits:
    """The settings as shipped, by name."""
    con = relations.connect()
    relations.build(con, ["settings"])
    return dict(con.execute("SELECT name, value FROM settings").fetchall())


@dataclass(frozen=True)
class Levels:
    """Per cohort, student and session: where the student stood after it."""

    own: Floats
    own_variance: Floats
    level: Floats
    sd: Floats

    @property
    def z(self) -> Floats:
        """How far outside the standard, in standard deviations."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.level / self.sd)


def pooled_noise(c: Cohorts, k: Limits, *, is_trim: bool = False) -> tuple[Floats, Floats]:
    """Within- and between-session variance per cohort and day, from all sessions up to it."""
    flown = c.flown
    steps = np.diff(c.figure, axis=2, prepend=np.nan)
    has_step = flown & (np.arange(flown.shape[2]) > 0)
    with np.errstate(divide="ignore"):
        share = np.where(flown, 1 / np.maximum(c.maneuvers, 1), 0.0)
    shares = np.where(has_step, share + np.roll(share, 1, axis=2), 0.0) / 2
    squares = _by_day(c, np.where(flown, c.squares, 0.0))
    freedom = _by_day(c, np.where(flown, c.maneuvers - 1, 0))
    halves = _by_day(c, np.where(has_step, np.nan_to_num(steps) ** 2 / 2, 0.0))
    shared = _by_day(c, shares)
    differences = _by_day(c, has_step.astype(float))
    df = k["flag_noise_prior_df"]
    within = (df * k["flag_within_prior"] + squares) / (df + freedom)
    if is_trim:
        within = np.zeros_like(within)
    prior = k["flag_trim_between_prior"] if is_trim else k["flag_between_prior"]
    between = (df * prior + halves - within * shared) / (df + differences)
    return within, np.maximum(k["flag_between_floor"], between)


def _by_day(c: Cohorts, values: Floats) -> Floats:
    """Sums over a cohort's sessions up to each day."""
    cohorts = np.arange(values.shape[0])[:, None, None]
    sums = np.zeros((values.shape[0], DAYS + 1))
    np.add.at(sums, (np.broadcast_to(cohorts, c.day.shape), c.day), values)
    return np.asarray(np.cumsum(sums, axis=1))


def device_effects(c: Cohorts, k: Limits, variance: Floats) -> Floats:
    """Effect of each device as of each day: cohorts x days x devices."""
    devices = int(c.device.max()) + 1
    count, students, _ = c.day.shape
    cell_shape = (count, students, devices, DAYS + 1)
    n, x, v = np.zeros(cell_shape), np.zeros(cell_shape), np.zeros(cell_shape)
    rows = np.broadcast_to(np.arange(count)[:, None, None], c.day.shape)
    people = np.broadcast_to(np.arange(students)[None, :, None], c.day.shape)
    flown = c.flown
    at = (rows[flown], people[flown], c.device[flown], c.day[flown])
    np.add.at(n, at, 1.0)
    np.add.at(x, at, c.figure[flown])
    np.add.at(v, at, variance[flown])
    n, x, v = (np.cumsum(a, axis=3) for a in (n, x, v))
    flown_devices = n.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        pull = v.sum(axis=1) / flown_devices / k["flag_device_sd"] ** 2
        effect = np.zeros((count, devices, DAYS + 1))
        there = flown_devices > 0
        for _ in range(int(k["flag_device_rounds"])):
            mean = (x - n * effect[:, None]).sum(axis=2) / n.sum(axis=2)
            residual = (x - n * np.nan_to_num(mean)[:, :, None]).sum(axis=1)
            effect = np.where(there, residual / (flown_devices + pull), 0.0)
            middle = effect.sum(axis=1) / np.maximum(there.sum(axis=1), 1)
            effect = np.where(there, effect - middle[:, None], 0.0)
    return np.asarray(effect)


def session_levels(
    c: Cohorts, k: Limits, *, is_adjusted: bool = False, is_trim: bool = False
) -> Levels:
    """Own level and level leant toward the cohort, after every session."""
    within, between = pooled_noise(c, k, is_trim=is_trim)
    effect = None
    if is_adjusted:
        own_noise = _noise_of(c, within, between, c.day, c.maneuvers)
        effect = device_effects(c, k, own_noise)
    own, own_variance = _own_levels(c, k, within, between, effect)
    middle, spread = _leans(c, k, own, own_variance)
    rows = np.arange(c.day.shape[0])[:, None, None]
    middle, spread = middle[rows, c.day], spread[rows, c.day]
    share = spread / (spread + own_variance)
    cap = k["flag_lean_cap_sd"] * np.sqrt(own_variance)
    level = own + np.clip((share - 1) * (own - middle), -cap, cap)
    return Levels(own, own_variance, level, np.sqrt(share * own_variance))


def _noise_of(c: Cohorts, within: Floats, between: Floats, day: Ints, maneuvers: Ints) -> Floats:
    rows = np.arange(c.day.shape[0])[:, None, None]
    noise = between[rows, day] + within[rows, day] / np.maximum(maneuvers, 1)
    return np.asarray(noise)


def _own_levels(
    c: Cohorts, k: Limits, within: Floats, between: Floats, effect: Floats | None
) -> tuple[Floats, Floats]:
    own = np.full(c.day.shape, np.nan)
    variance = np.full(c.day.shape, np.nan)
    rows = np.arange(c.day.shape[0])[:, None, None]
    for at in range(c.day.shape[2]):
        back = slice(max(0, at + 1 - int(k["flag_window_sessions"])), at + 1)
        figures = c.figure[:, :, back][:, :, ::-1]
        day = c.day[:, :, at, None]
        v = (
            between[rows, day]
            + within[rows, day] / np.maximum(c.maneuvers[:, :, back], 1)[:, :, ::-1]
        )
        if effect is not None:
            figures = figures - effect[rows, c.device[:, :, back][:, :, ::-1], day]
        own[:, :, at], variance[:, :, at] = _line(figures, v, at + 1, k)
    missing = ~c.flown
    own[missing] = np.nan
    variance[missing] = np.nan
    return own, variance


def _line(figures: Floats, v: Floats, n: int, k: Limits) -> tuple[Floats, Floats]:
    """Level and variance of windows whose newest figure comes first."""
    centre = np.median(figures[:, :, : int(k["flag_clip_sessions"])], axis=2)[:, :, None]
    reach = k["flag_clip_sd"] * np.sqrt(v)
    y = np.clip(figures, centre - reach, centre + reach)
    ago = np.arange(figures.shape[2])
    w = 0.5 ** (ago / k["flag_half_life_sessions"]) / v
    total = w.sum(axis=2)
    y_mean, a_mean = (w * y).sum(axis=2) / total, (w * ago).sum(axis=2) / total
    off = ago - a_mean[:, :, None]
    variance = (w * w * v).sum(axis=2) / total**2
    if n < k["flag_minimum_sessions"]:
        return y_mean, variance
    pull = (w * off**2).sum(axis=2) + n / k["flag_slope_sd"] ** 2
    slope = (w * off * (y - y_mean[:, :, None])).sum(axis=2) / pull
    return y_mean - slope * a_mean, variance + a_mean**2 / pull


def _leans(c: Cohorts, k: Limits, own: Floats, own_variance: Floats) -> tuple[Floats, Floats]:
    """Middle and true spread of each cohort on each day."""
    latest = latest_by_day(c, own, int(k["flag_minimum_sessions"]))
    latest_variance = latest_by_day(c, own_variance, int(k["flag_minimum_sessions"]))
    students = np.isfinite(latest).sum(axis=1)
    enough = students >= k["flag_pool_minimum_students"]
    padded = np.where(enough[:, None], latest, 0.0)
    padded_variance = np.where(enough[:, None], latest_variance, 0.0)
    middle = np.nanmedian(padded, axis=1)
    spread = np.nanvar(padded, axis=1, ddof=1) - np.nanmean(padded_variance, axis=1)
    spread = np.maximum(k["flag_pool_variance_floor"], spread)
    return (
        np.where(enough, middle, 0.0),
        np.where(enough, spread, k["flag_pool_default_variance"]),
    )


def latest_by_day(c: Cohorts, values: Floats, from_session: int) -> Floats:
    """Each student's value after the latest session up to each day; NaN before there is one."""
    count, students, _ = values.shape
    out = np.full((count, students, DAYS + 1), np.nan)
    rows, people, places = np.nonzero(c.flown)
    keep = places + 1 >= from_session
    rows, people, places = rows[keep], people[keep], places[keep]
    out[rows, people, c.day[rows, people, places]] = values[rows, people, places]
    filled = np.where(np.isfinite(out), np.arange(DAYS + 1), -1)
    last = np.maximum.accumulate(filled, axis=2)
    taken = np.take_along_axis(out, np.maximum(last, 0), axis=2)
    return np.where(last >= 0, taken, np.nan)


def flag_history(c: Cohorts, k: Limits, *, is_trim: bool = False) -> tuple[Levels, Folded]:
    """Levels as flown, and the flags by the whole rule, devices ruled out first."""
    flown = session_levels(c, k, is_trim=is_trim)
    adjusted = session_levels(c, k, is_adjusted=True, is_trim=is_trim)
    within, between = pooled_noise(c, k, is_trim=is_trim)
    effect = device_effects(c, k, _noise_of(c, within, between, c.day, c.maneuvers))
    rising, falling = trends(c, k)
    rising_adjusted, _ = trends(c, k, effect)
    z = np.minimum(flown.z, adjusted.z)
    return flown, fold(c, k, z, rising & rising_adjusted, falling)
