"""How the air shook the aeroplane beyond what the student did, from a session's second means."""

import math
from itertools import pairwise
from typing import Any

import numpy as np

from tests.reference.sessions import Limits, Session

RANKS = ("smooth", "light", "moderate", "rough")
Seconds = dict[int, float]


def _means(session: Session, column: str) -> Seconds:
    found: dict[int, list[float]] = {}
    for t, value in zip(session.t_ms, session.columns[column], strict=True):
        if value is not None:
            found.setdefault(t // 1000, []).append(float(value))
    return {s: sum(v) / len(v) for s, v in sorted(found.items())}


def _second_difference(values: Seconds, second: int) -> float | None:
    wanted = [values.get(second - back) for back in (0, 1, 2)]
    if any(v is None for v in wanted):
        return None
    now, before, earlier = (float(v) for v in wanted if v is not None)
    return now - 2 * before + earlier


def _rates(session: Session) -> Seconds:
    """Vertical speed of each second: as logged, else over the two seconds about it."""
    if "vertical_speed_fpm" in session.row["channels"]:
        return _means(session, "vertical_speed_fpm")
    altitude = _means(session, "altitude_ft")
    return {
        s: 30 * (altitude[s + 1] - altitude[s - 1])
        for s in altitude
        if s + 1 in altitude and s - 1 in altitude
    }


def has_unbroken_time(session: Session) -> bool:
    """Whether there are five seconds in a row with a sample; from fewer nothing is read."""
    seen = {t // 1000 for t in session.t_ms}
    return any(all(second - back in seen for back in range(5)) for second in seen)


def shakes_of(session: Session) -> dict[str, Any]:
    """The figures of `air_readings` but for their settings: both shakes, with how many seconds tell them."""
    channels = session.row["channels"]
    explained_by = next((c for c in ("pitch_deg", "pitch_control") if c in channels), None)
    rates, airspeed = _rates(session), _means(session, "airspeed_kt")
    seen = {t // 1000 for t in session.t_ms}
    cause = dict.fromkeys(seen, 0.0) if explained_by is None else _means(session, explained_by)
    rows, shakes = [], []
    for second in sorted(seen):
        if not all(second - back in seen for back in range(5)):
            continue
        y = _second_difference(rates, second)
        xs = [_second_difference(cause, second - back) for back in (0, 1, 2)]
        if y is not None and all(x is not None for x in xs):
            rows.append((y, *xs))
        shake = _second_difference(airspeed, second)
        if shake is not None:
            shakes.append(shake)
    return {
        "seconds": len(rows),
        "explained_by": {"pitch_deg": "pitch attitude", "pitch_control": "pitch control"}.get(
            explained_by or ""
        ),
        "vertical_shake_fpm": _unexplained(rows),
        "airspeed_seconds": len(shakes),
        "airspeed_shake_kt": (
            math.sqrt(sum(s * s for s in shakes) / len(shakes)) if shakes else None
        ),
    }


def _unexplained(rows: list[tuple[Any, ...]]) -> float | None:
    """The rms of the first value that a linear combination of the others leaves."""
    if not rows:
        return None
    table = np.array(rows, float)
    fit, *_ = np.linalg.lstsq(table[:, 1:], table[:, 0], rcond=None)
    left = table[:, 0] - table[:, 1:] @ fit
    return float(np.sqrt(np.mean(left**2)))


def is_rougher(session: Session, limits: Limits) -> bool:
    """Whether the air is declared, or shows itself as, moderate or rough."""
    declared = session.row["air"]
    shown = _shown(session, limits)
    return max(RANKS.index(a) if a in RANKS else -1 for a in (declared, shown)) >= 2


def _shown(session: Session, limits: Limits) -> str | None:
    if (session.row["median_step_s"] or 0) > 1:
        return None
    found = shakes_of(session)
    steps = _altitude_step(session)
    is_fine = steps is None or steps <= limits["air_altitude_step_ft"]
    has_seconds = found["seconds"] >= limits["air_seconds"]
    if found["explained_by"] == "pitch attitude" and has_seconds and is_fine:
        return _graded(found["vertical_shake_fpm"], "fpm", 1.0, limits)
    if found["airspeed_seconds"] >= limits["air_seconds"]:
        return _graded(found["airspeed_shake_kt"], "kt", 1.0, limits)
    if found["explained_by"] == "pitch control" and has_seconds and is_fine:
        return _graded(found["vertical_shake_fpm"], "fpm", limits["air_control_factor"], limits)
    return None


def _altitude_step(session: Session) -> float | None:
    """The smallest step of the altitude, where vertical speed was not logged."""
    if "vertical_speed_fpm" in session.row["channels"]:
        return None
    values = [v for _, v in session.logged("altitude")]
    return min((abs(b - a) for a, b in pairwise(values) if a != b), default=None)


def _graded(shake: float, unit: str, factor: float, limits: Limits) -> str:
    found = "smooth"
    for name in RANKS[1:]:
        if shake >= factor * limits[f"air_{name}_{unit}"]:
            found = name
    return found
