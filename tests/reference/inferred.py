"""Maneuvers told for what was found where no task was: targets, evidence, confidence."""

import math
import statistics
from collections.abc import Mapping, Sequence
from typing import Any

from tests.reference.finds import Motions
from tests.reference.search import Row, Seconds
from tests.reference.sessions import Limits, Session

Span = tuple[float, float]
Confidences = Mapping[tuple[str, str, bool], float]
"""How often a find was right, by kind, evidence and whether power was logged."""


def open_stretches_of(session: Session, tasks: Sequence[Mapping[str, Any]]) -> list[Span]:
    """From when to when no task was; the log's last second counts whole."""
    if not session.t_ms:
        return []
    reached: float = session.t_ms[0] // 1000
    found = []
    for start_s, end_s in sorted((t["start_s"], t["end_s"]) for t in tasks):
        if start_s > reached:
            found.append((reached, start_s))
        reached = max(reached, end_s)
    last = session.t_ms[-1] / 1000 + 1
    return [*found, (reached, last)] if last > reached else found


def _kept(window: Row, span: Span, limits: Limits) -> Span | None:
    """What an open stretch leaves of a find; None where that tells no such maneuver any more."""
    first, end = window["start_no"], window["end_no"]
    start_s, end_s = max(first, span[0]), min(end, span[1])
    if end_s <= start_s:
        return None
    is_long = end_s - start_s >= limits["inferred_minimum_s"]
    is_begun = span[0] <= first
    is_told = {
        "level": is_long,
        "level_off": is_begun and is_long,
        "power_change": is_begun and is_long,
    }.get(window["kind"], is_begun and end <= span[1])
    return (start_s, end_s) if is_told else None


def inferred_of(
    session: Session,
    open_spans: Sequence[Span],
    found: Mapping[str, Sequence[Row]],
    seconds: Seconds,
    motions: Motions,
    confidences: Confidences,
    limits: Limits,
) -> list[Row]:
    """The rows of `inferred_maneuvers`; `found` has the session's windows, climbs, turns and changes."""
    told = []
    for window in found["windows"]:
        for span in open_spans:
            kept = _kept(window, span, limits)
            if kept is not None:
                find = _Find(window, kept, found, seconds, motions)
                told.append(find.row(confidences, limits))
    told.sort(key=lambda row: row["start_s"])
    session_id, revision = session.key
    return [
        {"maneuver_id": f"{session_id}.{revision}.i{i + 1:02d}", **r} for i, r in enumerate(told)
    ]


class _Find:
    """One find, as far as it lies where no task is."""

    def __init__(
        self,
        window: Row,
        kept: Span,
        found: Mapping[str, Sequence[Row]],
        seconds: Seconds,
        motions: Motions,
    ) -> None:
        self.kind = window["kind"]
        self.start_s, self.end_s = kept
        self.flat_no = window["flat_no"]
        source = {
            "climb": "climbs",
            "descent": "climbs",
            "turn": "turns",
            "power_change": "changes",
        }.get(self.kind)
        self.event = (
            next((e for e in found[source] if e["start_no"] == window["begun_no"]), None)
            if source
            else None
        )
        self.own = {
            s: row for s, row in seconds.items() if row["stretch_no"] == window["stretch_no"]
        }
        self.motions = [motions[s] for s in self._seconds(self.start_s, self.end_s)]

    def _seconds(self, first: float, end: float) -> list[int]:
        return [s for s in self.own if first <= s < end]

    def _median(self, name: str, first: float, end: float) -> float | None:
        values = [v for s in self._seconds(first, end) if (v := self.own[s][name]) is not None]
        return statistics.median(values) if values else None

    def _within(self, name: str) -> float | None:
        return self._median(name, self.start_s, self.end_s)

    def _before(self, name: str) -> float | None:
        """The half minute before, as far as the aeroplane already flew level and straight."""
        return self._median(name, max(self.start_s - 30, self.flat_no), self.start_s)

    def altitude_ft(self) -> float | None:
        if self.kind in ("climb", "descent"):
            return self.event["settled_ft"] if self.event else None
        if self.kind == "level_off":
            return self._median("altitude_ft", (self.start_s + self.end_s) / 2, self.end_s)
        before = {
            "power_change": self._before("altitude_ft"),
            "turn": self._median("altitude_ft", self.start_s - 30, self.start_s),
        }.get(self.kind)
        return self._within("altitude_ft") if before is None else before

    def heading_deg(self) -> float | None:
        if self.kind == "turn":
            return self.event["settled_deg"] if self.event else None
        before = self._before("heading_deg") if self.kind == "power_change" else None
        return self._within("heading_deg") if before is None else before

    def unrest(self, limits: Limits) -> float:
        """The share of seconds in which it climbed, descended or turned all the same."""
        restless = [
            abs(m["climb_fpm"] or 0) > limits["inferred_rest_fpm"]
            or abs(m["turn_deg_per_s"] or 0) > limits["inferred_rest_deg_per_s"]
            for m in self.motions
        ]
        return sum(restless) / len(restless)

    def evidence(self, limits: Limits) -> str:
        if self.kind in ("climb", "descent", "turn"):
            size, clear = (
                ("peak_deg_per_s", "inferred_turn_clear_deg_per_s")
                if self.kind == "turn"
                else ("change_ft", "inferred_climb_clear_ft")
            )
            is_clear = self.event is not None and self.event[size] >= limits[clear]
            return "clear" if is_clear else "fair"
        unrest = self.unrest(limits)
        if unrest >= limits["inferred_restless_share"]:
            return "doubtful"
        is_small = (
            self.kind == "power_change"
            and self.event is not None
            and abs(self.event["power_step"]) < limits["inferred_power_clear"]
        )
        return "fair" if unrest >= limits["inferred_calm_share"] or is_small else "clear"

    def has_power(self) -> bool:
        """Whether power is known from half a minute before on."""
        return self._median("power", self.start_s - 30, self.end_s) is not None

    def row(self, confidences: Confidences, limits: Limits) -> Row:
        altitude, heading = self.altitude_ft(), self.heading_deg()
        target_ft = None if altitude is None else 10 * nearest(altitude / 10)
        target_deg = None if heading is None else nearest(heading) % 360
        evidence = self.evidence(limits)
        return {
            "kind": self.kind,
            "basis": "inferred",
            "start_s": self.start_s,
            "end_s": self.end_s,
            "target_altitude_ft": target_ft,
            "target_heading_deg": target_deg,
            "flown_by": "student",
            "beside_hundred_ft": beside(target_ft, 100),
            "beside_five_deg": beside(target_deg, 5),
            "unrest": self.unrest(limits),
            "evidence": evidence,
            "confidence": confidences.get((self.kind, evidence, self.has_power())),
        }


def nearest(value: float) -> int:
    """The nearest whole number; halfway goes away from zero."""
    return int(math.copysign(math.floor(abs(value) + 0.5), value))


def beside(value: int | None, step: int) -> int | None:
    """How far a whole number lies from the nearest multiple of a step."""
    return None if value is None else value - step * nearest(value / step)
