"""Forecasts once more, for arrays of cohorts; tests hold them equal to the relation `forecasts`."""

from dataclasses import dataclass

import numpy as np

from tests.simulation import rule
from tests.simulation.fold import Folded, Limits
from tests.simulation.rule import Levels
from tests.simulation.world import Bools, Cohorts, Floats, Ints

NEVER = 99


@dataclass(frozen=True)
class Forecasts:
    """Further sessions per cohort, student and session; NEVER beyond the horizon."""

    is_told: Bools
    earliest: Ints
    middle: Ints
    latest: Ints


def forecasts(
    c: Cohorts, k: Limits, levels: Levels, folded: Folded, cohort_day: Ints | None = None
) -> Forecasts:
    """What would have been forecast after every session.

    `cohort_day` is the day up to which the cohort is looked at (default: the session's own).
    """
    day = c.day if cohort_day is None else cohort_day
    sums = _sums(c, k)
    middle, spread, is_enough = _cohort_exponents(c, k, sums, day)
    chances = _chances(c, k, levels, sums, middle, spread)
    session = np.arange(1, c.day.shape[2] + 1)
    plateau = ~folded.flagged & ~folded.rising & ~folded.falling
    plateau &= (session >= k["flag_plateau_sessions"]) & (levels.z > k["flag_meets_z"])
    is_told = c.flown & is_enough & (levels.z > 0) & ~plateau
    is_told &= session >= k["flag_forecast_minimum_sessions"]
    return Forecasts(
        is_told,
        _first(chances, k["flag_forecast_low_chance"]),
        _first(chances, 0.5),
        _first(chances, k["flag_forecast_high_chance"]),
    )


def truth_ahead(c: Cohorts, k: Limits) -> Ints:
    """How many further sessions it truly takes to be within the standard; NEVER beyond the horizon."""
    horizon = int(k["flag_forecast_horizon_sessions"])
    out = np.full(c.day.shape, NEVER)
    for at in range(c.day.shape[2]):
        is_met = c.course[:, :, at : at + horizon + 1] <= 0
        out[:, :, at] = np.where(is_met.any(axis=2), is_met.argmax(axis=2), NEVER)
    return out


Sums = tuple[Floats, Floats, Floats, Floats, Floats]


def _sums(c: Cohorts, k: Limits) -> Sums:
    """Weights, practices, their squares, figures and products over each session's window."""
    within, between = rule.pooled_noise(c, k)
    rows = np.arange(c.day.shape[0])[:, None, None]
    sums: Sums = tuple(np.full(c.day.shape, np.nan) for _ in range(5))  # type: ignore[assignment]
    for at in range(c.day.shape[2]):
        back = slice(max(0, at + 1 - int(k["flag_window_sessions"])), at + 1)
        day = c.day[:, :, at, None]
        w = 1 / (between[rows, day] + within[rows, day] / np.maximum(c.maneuvers[:, :, back], 1))
        t = np.log((at + 1) / np.arange(back.start + 1, at + 2))
        x = c.figure[:, :, back]
        for total, values in zip(sums, (w, w * t, w * t * t, w * x, w * t * x), strict=True):
            total[:, :, at] = values.sum(axis=2)
    return sums


def _cohort_exponents(c: Cohorts, k: Limits, sums: Sums, day: Ints) -> tuple[Floats, Floats, Bools]:
    """Middle and variance of the cohort's exponents at each session, and whether enough students."""
    w, wt, wtt, wx, wtx = sums
    with np.errstate(invalid="ignore", divide="ignore"):
        squares = wtt - wt**2 / w
        own, own_variance = (wtx - wt * wx / w) / squares, 1 / squares
    first = int(k["flag_forecast_minimum_sessions"])
    latest = rule.latest_by_day(c, own, first)
    latest_variance = rule.latest_by_day(c, own_variance, first)
    enough = np.isfinite(latest).sum(axis=1) >= k["flag_pool_minimum_students"]
    latest = np.where(enough[:, None], latest, 0.0)
    latest_variance = np.where(enough[:, None], latest_variance, 0.0)
    spread = np.nanvar(latest, axis=1, ddof=1) - np.nanmean(latest_variance, axis=1)
    spread = np.maximum(k["flag_forecast_exponent_sd"] ** 2, spread)
    rows = np.arange(c.day.shape[0])[:, None, None]
    return np.nanmedian(latest, axis=1)[rows, day], spread[rows, day], enough[rows, day]


def _chances(
    c: Cohorts, k: Limits, levels: Levels, sums: Sums, middle: Floats, spread: Floats
) -> Floats:
    """The chance of meeting the standard 0, 1, 2 ... sessions on."""
    w, wt, wtt, wx, wtx = sums
    stiff, product = wtt + 1 / spread, wtx + middle / spread
    scale = w * stiff - wt**2
    exponent = (w * product - wt * wx) / scale
    n = np.arange(1, c.day.shape[2] + 1)
    out = []
    for ahead in range(int(k["flag_forecast_horizon_sessions"]) + 1):
        gain = np.log((n + ahead) / n)
        variance = (stiff + 2 * gain * wt + gain**2 * w) / scale
        z = -(levels.level - exponent * gain) / np.sqrt(variance)
        out.append(1 / (1 + np.exp(-np.clip(1.5976 * z + 0.07056 * z**3, -700, 700))))
    return np.stack(out, axis=-1)


def _first(chances: Floats, needed: float) -> Ints:
    hit = chances >= needed
    return np.where(hit.any(axis=-1), hit.argmax(axis=-1), NEVER)
