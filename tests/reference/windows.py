"""A log cut into what was found in it: climbs, descents, turns, and level flight by what happened last."""

from collections.abc import Sequence
from itertools import groupby

from tests.reference.finds import Run
from tests.reference.search import Row, Seconds
from tests.reference.sessions import Limits


def windows_of(
    seconds: Seconds,
    climbs: Sequence[Row],
    turns: Sequence[Row],
    changes: Sequence[Row],
    limits: Limits,
) -> list[Row]:
    """The rows of `found_windows`."""

    def phase(second: int) -> tuple[int, str, int | None]:
        """The stretch, what the aeroplane did, and since when."""
        stretch = seconds[second]["stretch_no"]
        for c in climbs:
            if c["start_no"] <= second <= c["end_no"]:
                return stretch, c["kind"], c["start_no"]
        for t in turns:
            if t["start_no"] <= second <= t["end_no"]:
                return stretch, "turn", t["start_no"]
        return stretch, "flat", None

    found: list[Row] = []
    before: tuple[int, str] | None = None
    for (stretch, kind, begun), run in groupby(sorted(seconds), key=phase):
        own = list(run)
        parts: list[tuple[str, int, Run]] = [(kind, own[0] if begun is None else begun, own)]
        if kind == "flat":
            previous = before[1] if before and before[0] == stretch else None
            starts = [c["start_no"] for c in changes]
            parts = _flat_parts(own, previous, starts, limits)
        before = stretch, kind
        found += [
            {
                "stretch_no": stretch,
                "kind": name,
                "start_no": part[0],
                "end_no": part[-1] + 1,
                "flat_no": own[0],
                "begun_no": since,
            }
            for name, since, part in parts
            if name in ("climb", "descent", "turn")
            or part[-1] + 1 - part[0] >= limits["inferred_minimum_s"]
        ]
    return found


def _flat_parts(
    run: Run, previous: str | None, changes: Sequence[int], limits: Limits
) -> list[tuple[str, int, Run]]:
    """Level flight cut by what happened last: it levelled off, or power was changed."""

    def last_event(second: int) -> tuple[str, int]:
        recent = [c for c in changes if run[0] <= c <= second < c + limits["inferred_event_s"]]
        if recent:
            return "power_change", max(recent)
        is_after_climb = previous in ("climb", "descent")
        if is_after_climb and second < run[0] + limits["inferred_event_s"]:
            return "level_off", run[0]
        if previous == "turn" and second < run[0] + limits["inferred_margin_s"]:
            return "margin", run[0]
        return "level", run[0]

    parts: list[tuple[str, int, Run]] = []
    for (name, since), part in groupby(run, key=last_event):
        if name != "margin":
            parts.append((name, since, list(part)))
    return parts
