"""Where a log does not go on by itself: gaps, jumps, pauses."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from tests.reference.sessions import Limits, Session, wrapped

Row = dict[str, Any]
Span = tuple[int, int]

MOTION = (
    "altitude_ft",
    "heading_deg",
    "vertical_speed_fpm",
    "airspeed_kt",
    "pitch_deg",
    "bank_deg",
    "pitch_control",
    "roll_control",
)
"""The channels of which some must move while the clock goes on."""


def breaks_of(session: Session, limits: Limits) -> list[Row]:
    """The rows of `session_breaks` of one session."""
    away = dict.fromkeys(_gaps(session, limits), "gap")
    away |= dict.fromkeys(_jumps(session, limits), "jump")
    ends: dict[int, int] = {}
    for from_ms, to_ms in away:
        ends[from_ms] = max(to_ms, ends.get(from_ms, to_ms))
    found = [
        _break(max(k for (a, _), k in away.items() if a == from_ms), from_ms, to_ms)
        for from_ms, to_ms in ends.items()
    ]
    recorded = set(MOTION) & set(session.row["channels"])
    if len(recorded) >= limits["pause_channels"]:
        found += [
            _break("pause", first, last)
            for first, last in _stills(session)
            if last - first >= 1000 * limits["pause_s"]
        ]
    return found


def _break(kind: str, from_ms: int, to_ms: int) -> Row:
    return {"break_kind": kind, "from_ms": from_ms, "to_ms": to_ms}


def _gaps(session: Session, limits: Limits) -> list[Span]:
    longest = 1000 * limits["inferred_gap_s"]
    return [(a, b) for a, b in pairwise(session.t_ms) if b - a > longest]


def _jumps(session: Session, limits: Limits) -> list[Span]:
    """From which sample to which the aeroplane was put elsewhere.

    A channel recorded more slowly than the log tells by its own samples, where no other tells more closely.
    """
    close: list[Span] = []
    slower: list[Span] = []
    for column, limit in (("altitude_ft", "jump_altitude_ft"), ("heading_deg", "jump_heading_deg")):
        is_slower = column in session.row["sparse_channels"]
        cells = zip(session.t_ms, session.columns[column], strict=True)
        points = [(t, v) for t, v in cells if v is not None or not is_slower]
        found = [
            (points[i - 1][0], points[i][0])
            for i in range(1, len(points) - 1)
            if _is_jump(points, i, limit, limits)
        ]
        (slower if is_slower else close).extend(found)
    return close + [(a, b) for a, b in slower if not any(a < told <= b for _, told in close)]


def _is_jump(
    points: Sequence[tuple[int, float | None]], i: int, limit: str, limits: Limits
) -> bool:
    """Whether a channel is elsewhere from point i on: further than it could fly, and it stays there."""

    def apart(one: int, other: int) -> float:
        """Infinite where the log begins between; nothing where a value is not known."""
        if one < 0:
            return math.inf
        a, b = points[one][1], points[other][1]
        if a is None or b is None:
            return 0
        return abs(wrapped(b - a)) if limit == "jump_heading_deg" else abs(b - a)

    near = limits[limit]
    far = near + limits[f"{limit}_per_s"] * (points[i][0] - points[i - 1][0]) / 1000
    # Where the point before was a lone wrong one, this one is where the flight was two points ago.
    return apart(i - 1, i) > far and apart(i - 1, i + 1) > near and apart(i - 2, i) > near


def _stills(session: Session) -> list[Span]:
    """From which sample to which nothing moved at all."""
    found: list[Span] = []
    states = list(zip(*(session.columns[name] for name in MOTION), strict=True))
    for i in range(1, len(states)):
        if states[i] != states[i - 1]:
            continue
        first, last = session.t_ms[i - 1], session.t_ms[i]
        if found and found[-1][1] == first:
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return found
