"""Maneuvers that were asked for, parted where the simulator jumped or paused."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from tests.reference.inferred import Span
from tests.reference.search import Row
from tests.reference.sessions import Session


def assigned_of(
    session: Session, tasks: Sequence[Mapping[str, Any]], breaks: Collection[Row]
) -> list[Row]:
    """The rows of `assigned_parts`: tasks, parted where the simulator jumped or paused in them."""
    found = []
    session_id, revision = session.key
    cuts = sorted(
        (b["from_ms"] / 1000, b["to_ms"] / 1000) for b in breaks if b["break_kind"] != "gap"
    )
    for task in tasks:
        code = f"{session_id}.{revision}.{task['task_no']:02d}"
        is_event = task["kind"] in ("level_off", "power_change")
        asked = {n: task[n] for n in ("target_altitude_ft", "target_heading_deg", "flown_by")}
        for number, start_s, end_s in _pieces(task["start_s"], task["end_s"], cuts):
            found.append(
                {
                    "maneuver_id": code if number == 1 else f"{code}-{number}",
                    "kind": "level" if number > 1 and is_event else task["kind"],
                    "basis": "assigned",
                    "start_s": start_s,
                    "end_s": end_s,
                    **asked,
                }
            )
    return found


def _pieces(start_s: float, end_s: float, cuts: Collection[Span]) -> list[tuple[int, float, float]]:
    """What breaks leave of a span, numbered from 1; the first piece is kept though it be empty."""
    reached = start_s
    pieces: list[Span] = []
    for from_s, to_s in cuts:
        if from_s >= end_s or to_s <= start_s:
            continue
        if pieces or from_s > reached:
            pieces.append((reached, from_s))
        reached = min(to_s, end_s)
    pieces.append((reached, end_s))
    return [(i + 1, a, b) for i, (a, b) in enumerate(pieces) if i == 0 or b > a]
