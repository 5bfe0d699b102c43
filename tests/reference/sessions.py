"""Sessions and maneuvers as plain objects, read from the store's tables."""

import math
import statistics
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, wraps
from itertools import pairwise
from typing import Any, TypeVar, cast

import pyarrow as pa

Limits = Mapping[str, float]
Work = TypeVar("Work", bound=Callable[..., Any])
Point = tuple[int, float]
"""A time in milliseconds from the session's start, and a channel's value there."""

LOGGED = {
    "altitude": "altitude_ft",
    "airspeed": "airspeed_kt",
    "pitch_control": "pitch_control",
    "roll_control": "roll_control",
    "pitch_force": "pitch_force",
    "pitch_trim": "pitch_trim",
    "bank": "bank_deg",
    "heading": "heading_deg",
    "vertical_speed": "vertical_speed_fpm",
}


def wrapped(degrees: float) -> float:
    """The same direction in (-180, 180]."""
    rest = math.fmod(degrees, 360.0)
    if rest > 180:
        return rest - 360
    return rest + 360 if rest <= -180 else rest


@dataclass(frozen=True)
class Session:
    """A landed session with all its samples."""

    row: Mapping[str, Any]
    t_ms: list[int]
    columns: Mapping[str, list[Any]]
    limits: Limits
    _logged: dict[str, list[Point]] = field(default_factory=dict, repr=False)

    @property
    def key(self) -> tuple[str, int]:
        return (self.row["session_id"], self.row["revision"])

    @property
    def session_date(self) -> date:
        found: date = self.row["session_date"]
        return found

    @property
    def is_speed_derived(self) -> bool:
        return "vertical_speed_fpm" not in self.row["channels"]

    @property
    def session_gap_ms(self) -> int:
        """The longest step that is no gap, whole milliseconds."""
        return math.floor(self.row["gap_limit_s"] * 1000 + 1e-6)

    def logged(self, channel: str) -> list[Point]:
        """A channel's values as recorded; blank cells are no points."""
        if channel not in self._logged:
            cells = zip(self.t_ms, self.columns[LOGGED[channel]], strict=True)
            self._logged[channel] = [(t, float(v)) for t, v in cells if v is not None]
        return self._logged[channel]

    def points(self, channel: str) -> list[Point]:
        """A channel's values; vertical speed is derived from altitude where none was logged."""
        if channel == "vertical_speed" and self.is_speed_derived:
            return self.derived_speed
        return self.logged(channel)

    def own_step_ms(self, channel: str) -> float | None:
        """The median step of a channel that was recorded more slowly than the log; else None."""
        if channel == "vertical_speed" and self.is_speed_derived:
            channel = "altitude"
        if LOGGED[channel] not in self.row["sparse_channels"]:
            return None
        times = [t for t, _ in self.logged(channel)]
        steps = [b - a for a, b in pairwise(times)]
        return statistics.median(steps) if steps else None

    def gap_ms(self, channel: str) -> int:
        """The longest step across which a channel counts as known: a slower channel has its own."""
        own = self.own_step_ms(channel)
        if own is None:
            return self.session_gap_ms
        return max(self.session_gap_ms, math.floor(self.limits["channel_gap_steps"] * own))

    def step_s(self, channel: str) -> float:
        """The median time between a channel's values (0 where the session has one sample)."""
        own = self.own_step_ms(channel)
        usual: float = self.row["median_step_s"] or 0.0
        return usual if own is None else max(usual, own / 1000)

    @cached_property
    def derived_speed(self) -> list[Point]:
        """Vertical speed as the slope of the altitude around each moment, within known stretches."""
        altitudes = self.logged("altitude")
        steps = [abs(b[1] - a[1]) for a, b in pairwise(altitudes)]
        moved = [step for step in steps if step > 0]
        if moved and min(moved) >= self.limits["coarse_altitude_step_ft"]:
            return []
        half_ms = round(self.limits["derived_speed_window_s"] * 500)
        found = []
        for stretch in stretches_of(altitudes, self.gap_ms("altitude")):
            for t, _ in stretch:
                around = between(stretch, t - half_ms, t + half_ms)
                slope = _slope(around)
                if slope is not None:
                    found.append((t, 60_000 * slope))
        return found


def remembered(work: Work) -> Work:
    """The same work on a window, done once for the same further arguments (limits never change)."""

    @wraps(work)
    def looked_up(window: "Window", *args: Any) -> Any:  # noqa: ANN401
        key = (work.__name__, *(a for a in args if not isinstance(a, Mapping)))
        if key not in window.kept:
            window.kept[key] = work(window, *args)
        return window.kept[key]

    return cast("Work", looked_up)


def between(points: list[Point], first_ms: int, last_ms: int) -> list[Point]:
    """The points from `first_ms` to `last_ms`, both counted in."""
    start = bisect_left(points, first_ms, key=lambda p: p[0])
    end = bisect_right(points, last_ms, key=lambda p: p[0])
    return points[start:end]


def _slope(points: list[Point]) -> float | None:
    """The least-squares slope, per millisecond; None from fewer than two points."""
    if len(points) < 2:
        return None
    middle = sum(t for t, _ in points) / len(points)
    level = points[0][1]
    spread = sum((t - middle) ** 2 for t, _ in points)
    return sum((t - middle) * (v - level) for t, v in points) / spread


def stretches_of(points: list[Point], gap_ms: int) -> list[list[Point]]:
    """The points parted where the step to the next is longer than `gap_ms`."""
    found: list[list[Point]] = []
    for point in points:
        if not found or point[0] - found[-1][-1][0] > gap_ms:
            found.append([])
        found[-1].append(point)
    return found


@dataclass(frozen=True)
class Window:
    """A maneuver: what was asked for, and the seconds of its session that it lies in.

    `kept` remembers what was once worked out for it, so that slow does not become endless.
    """

    maneuver_id: str
    session: Session
    kind: str
    start_s: float
    end_s: float
    target_altitude_ft: float | None
    target_heading_deg: float | None
    flown_by: str | None
    _points: dict[str, list[Point]] = field(default_factory=dict, repr=False)
    kept: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def start_ms(self) -> int:
        return round(self.start_s * 1000)

    @property
    def end_ms(self) -> int:
        return round(self.end_s * 1000)

    @property
    def length_s(self) -> float:
        return (self.end_ms - self.start_ms) / 1000

    def is_inside(self, t_ms: int) -> bool:
        """Whether a moment belongs to the maneuver; both of its edges do."""
        return self.start_ms <= t_ms <= self.end_ms

    def points(self, channel: str) -> list[Point]:
        """A channel's values in the maneuver; altitude and heading as errors where there is a target."""
        if channel not in self._points:
            inside = between(self.session.points(channel), self.start_ms, self.end_ms)
            self._points[channel] = self._errors(channel, inside)
        return self._points[channel]

    def _errors(self, channel: str, found: list[Point]) -> list[Point]:
        if channel == "altitude" and self.target_altitude_ft is not None:
            return [(t, v - self.target_altitude_ft) for t, v in found]
        return self._headings(found) if channel == "heading" else found

    def _headings(self, found: list[Point]) -> list[Point]:
        """Headings as errors: the first in (-180, 180], each next the short way round from the last."""
        unwrapped: list[Point] = []
        for i, (t, heading) in enumerate(found):
            if i > 0:
                error = unwrapped[-1][1] + wrapped(heading - found[i - 1][1])
            elif self.target_heading_deg is None:
                error = heading
            else:
                error = wrapped(heading - self.target_heading_deg)
            unwrapped.append((t, error))
        return unwrapped

    def stretches(self, channel: str) -> list[list[Point]]:
        """The values parted at gaps: within a stretch the signal is known, a line from point to point."""
        return stretches_of(self.points(channel), self.session.gap_ms(channel))


def read_sessions(tables: Mapping[str, pa.Table], limits: Limits) -> dict[tuple[str, int], Session]:
    """Every session of the stored tables, by session_id and revision."""
    rows = tables["stored_sessions"].to_pylist()
    samples = tables["stored_samples"].combine_chunks()
    places: dict[tuple[str, int], list[int]] = {}
    keys = zip(samples["session_id"].to_pylist(), samples["revision"].to_pylist(), strict=True)
    for i, key in enumerate(keys):
        places.setdefault(key, []).append(i)
    found = {}
    for row in rows:
        key = (row["session_id"], row["revision"])
        own = samples.take(pa.array(places.get(key, []), pa.int64())).sort_by("t_ms")
        columns = {name: own[name].to_pylist() for name in own.column_names}
        found[key] = Session(row, columns["t_ms"], columns, limits)
    return found


def read_windows(
    windows: list[dict[str, Any]], sessions: Mapping[tuple[str, int], Session]
) -> list[Window]:
    """The maneuvers of `maneuver_windows` rows."""
    return [
        Window(
            w["maneuver_id"],
            sessions[w["session_id"], w["revision"]],
            w["kind"],
            w["start_s"],
            w["end_s"],
            w["target_altitude_ft"],
            w["target_heading_deg"],
            w["flown_by"],
        )
        for w in windows
    ]
