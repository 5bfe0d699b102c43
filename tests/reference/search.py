"""The first steps of the search for maneuvers: a session's seconds, and its motion slowly seen."""

import math
import statistics
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from tests.reference.sessions import Limits, Session, wrapped

Row = dict[str, Any]
Seconds = dict[int, Row]


def is_searched(open_spans: Sequence[tuple[float, float]], limits: Limits) -> bool:
    """Whether a stretch without a task is long enough."""
    return any(end - start >= limits["inferred_untasked_s"] for start, end in open_spans)


def seconds_of(session: Session, breaks: Sequence[Mapping[str, Any]], limits: Limits) -> Seconds:
    """The rows of `session_seconds` by their second; `breaks` are the session's rows of session_breaks."""
    samples: dict[int, list[int]] = {}
    for i, t in enumerate(session.t_ms):
        samples.setdefault(t // 1000, []).append(i)
    found: Seconds = {}
    before: Row | None = None
    for second, places in sorted(samples.items()):
        first_ms = session.t_ms[places[0]]
        row = _means(session, places)
        is_paused = any(
            b["break_kind"] == "pause" and b["from_ms"] <= first_ms < b["to_ms"] for b in breaks
        )
        is_slow = (row["airspeed_kt"] or math.inf) < limits["inferred_flying_kt"]
        is_grounded = any(session.columns["on_ground"][i] for i in places)
        if is_paused or is_slow or is_grounded or row["altitude_ft"] is None:
            continue
        row["breaks"] = sum(b["to_ms"] <= first_ms for b in breaks)
        row["second_no"] = second
        _follow(row, before, limits)
        found[second] = before = row
    return found


def _means(session: Session, places: Sequence[int]) -> Row:
    row: Row = {}
    for name in ("altitude_ft", "airspeed_kt", "power"):
        values = [v for i in places if (v := session.columns[name][i]) is not None]
        row[name] = sum(values) / len(values) if values else None
    angles = [
        math.radians(v) for i in places if (v := session.columns["heading_deg"][i]) is not None
    ]
    row["heading_deg"] = (
        math.degrees(math.atan2(sum(map(math.sin, angles)), sum(map(math.cos, angles))))
        if angles
        else None
    )
    return row


def _follow(row: Row, before: Row | None, limits: Limits) -> None:
    """Number the stretch, and unwrap the heading, after the second before."""
    row["stretch_no"], row["turns"] = 0, 0
    row["direction"] = row["heading_deg"]
    if before is None:
        return
    is_late = row["second_no"] - before["second_no"] > limits["inferred_gap_s"]
    row["stretch_no"] = before["stretch_no"] + (row["breaks"] > before["breaks"] or is_late)
    row["turns"] = before["turns"]
    if row["direction"] is not None and before["direction"] is not None:
        step = row["direction"] - before["direction"]
        row["turns"] += round((wrapped(step) - step) / 360)
    if row["direction"] is not None:
        row["heading_deg"] = row["direction"] + 360 * row["turns"]


def motions_of(seconds: Seconds, limits: Limits) -> dict[int, Row]:
    """The rows of `slow_motions` by their second."""
    return {second: _motion(seconds, second, limits) for second in seconds}


def _motion(seconds: Seconds, second: int, limits: Limits) -> Row:
    stretch = seconds[second]["stretch_no"]

    def known(name: str, first: int, last: int) -> dict[int, float]:
        return {
            s: seconds[s][name]
            for s in range(first, last + 1)
            if s in seconds and seconds[s]["stretch_no"] == stretch and seconds[s][name] is not None
        }

    reach = round(limits["inferred_slope_s"] / 2)
    turn_reach = math.floor(limits["inferred_turn_slope_s"] / 2)
    climb = _slope(known("altitude_ft", second - reach, second + reach))
    before = known("power", second - 5, second)
    after = known("power", second + 1, second + 6)
    step = mean_of(after.values()) - mean_of(before.values()) if before and after else None
    row: Row = {
        "stretch_no": stretch,
        "climb_fpm": None if climb is None else 60 * climb,
        "turn_deg_per_s": _slope(known("heading_deg", second - turn_reach, second + turn_reach)),
        "power_step": step,
        "power_kept": None,
        "power_unrest": None,
    }
    if step is not None and abs(step) >= limits["inferred_power_step"]:
        minute = known("power", second + 5, second + 65), known("power", second - 60, second)
        if all(minute):
            row["power_kept"] = statistics.median(minute[0].values()) - statistics.median(
                minute[1].values()
            )
        unrest = known("power", second - 17, second - 2).values()
        row["power_unrest"] = max(unrest) - min(unrest) if unrest else None
    return row


def mean_of(values: Collection[float]) -> float:
    return math.fsum(values) / len(values)


def _slope(known: Mapping[int, float]) -> float | None:
    if len(known) < 2:
        return None
    middle, mean = mean_of(known.keys()), mean_of(known.values())
    spread = math.fsum((s - middle) ** 2 for s in known)
    return math.fsum((s - middle) * (v - mean) for s, v in known.items()) / spread
