"""Steadiness: vertical speed, and the movements of the control and of the trim."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from tests.reference.excursions import runs_beyond, second_means
from tests.reference.holds import hold_of
from tests.reference.sessions import Limits, Window


@dataclass(frozen=True)
class Move:
    """One trim input: from when to when (seconds of the session) and how far (+ nose up)."""

    start_s: float
    end_s: float
    change: float


def trim_moves(window: Window, limits: Limits) -> list[Move]:
    """The trim inputs: movement in one direction until the trim rested or turned round.

    On the means of each second: it moves where it changes faster than a limit from one second with a
    value to the next; across a gap nothing is known. Inputs within the dead-band are left out.
    """
    seconds = list(second_means(window, "pitch_trim").items())
    moves: list[Move] = []
    for (before, old), (now, new) in pairwise(seconds):
        is_gap = (now - before - 1) * 1000 >= window.session.gap_ms("pitch_trim")
        change = new - old
        if is_gap or abs(change) <= limits["trim_moving_per_s"] * (now - before):
            continue
        last = moves[-1] if moves else None
        has_rested = last is not None and before - (last.end_s - 1) >= limits["trim_pause_s"]
        if last is None or has_rested or change * last.change < 0:
            moves.append(Move(before, now + 1, change))
        else:
            moves[-1] = Move(last.start_s, now + 1, last.change + change)
    return [m for m in moves if abs(m.change) >= limits["trim_dead_band"]]


def turns_of(positions: list[float], dead_band: float) -> int:
    """How often a movement turned round by at least the dead-band from its furthest point."""
    turns, direction = 0, 0
    furthest = {+1: positions[0], -1: positions[0]}
    for position in positions:
        furthest[+1] = max(furthest[+1], position)
        furthest[-1] = min(furthest[-1], position)
        has_fallen = furthest[+1] - position >= dead_band
        has_risen = position - furthest[-1] >= dead_band
        if direction != -1 and has_fallen:
            turns, direction = turns + (direction == 1), -1
        elif direction != 1 and has_risen:
            turns, direction = turns + (direction == -1), 1
        else:
            continue
        furthest = {+1: position, -1: position}
    return turns


def control_turns(window: Window, channel: str, limits: Limits) -> tuple[int, int] | None:
    """The turns of an input and the seconds that it was seen in; None where it was not logged."""
    positions = list(second_means(window, channel).values())
    if not positions:
        return None
    name = {"pitch_control": "control_dead_band", "pitch_trim": "trim_dead_band"}[channel]
    return turns_of(positions, limits[name]), len(positions)


def steadiness_of(window: Window, limits: Limits) -> dict[str, Any]:
    """The figures of `steadiness` for one maneuver."""
    speed = hold_of(window, "vertical_speed", limits)
    control = hold_of(window, "pitch_control", limits)
    turns = control_turns(window, "pitch_control", limits)
    has_trim = control_turns(window, "pitch_trim", limits) is not None
    moves = trim_moves(window, limits)
    directions = [m.change > 0 for m in moves]
    observed_s = speed.observed_s if speed is not None else None
    band = limits["near_zero_vertical_speed_fpm"]
    off_s = sum(
        r.end_s - r.start_s
        for e in (band, -band)
        for r in runs_beyond(window, "vertical_speed", e, limits)
    )
    return {
        "vertical_speed_rms_fpm": speed.rms if speed else None,
        "near_zero_vs": None if observed_s is None else 1 - off_s / observed_s,
        "control_reversals_per_min": 60 * turns[0] / turns[1] if turns else None,
        "control_sd": control.spread if control else None,
        "trim_inputs": len(moves) if has_trim else None,
        "trim_reversals": (sum(a != b for a, b in pairwise(directions)) if has_trim else None),
        "is_vertical_speed_derived": None
        if observed_s is None
        else window.session.is_speed_derived,
    }
