"""Where a log does not go on by itself: a simulator's pause or jump, an altimeter set anew.

Maneuvers are split at a pause and at a jump by the relation session_breaks; here they are put on
record. A step of altitude alone is taken for a new altimeter setting: near sea level a hectopascal
is 27.3 ft and 0.1 inHg 92 ft (U.S. Standard Atmosphere 1976).
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pipeline.land.checks.track import (
    JUMP_ALTITUDE_FT,
    JUMP_ALTITUDE_FT_PER_S,
    JUMP_HEADING_DEG,
    JUMP_HEADING_DEG_PER_S,
    Series,
    Track,
)
from pipeline.land.gates import MOST_FINDINGS, Gate

PAUSE_S: Final = 5.0
PAUSE_CHANNELS: Final = 4
"""The shipped limits of the same name: none of so many channels moves for so long."""

FT_PER_HPA: Final = 27.3
STEP_FT: Final = 25.0
STEP_RESOLUTIONS: Final = 2.5
LARGEST_STEP_FT: Final = 1500.0
AROUND_S: Final = 5.0

_MOTION: Final = (
    "altitude_ft",
    "heading_deg",
    "vertical_speed_fpm",
    "airspeed_kt",
    "pitch_deg",
    "bank_deg",
    "pitch_control",
    "roll_control",
)


def pause_gates(track: Track) -> Iterator[Gate]:
    """One note for each stretch in which nothing at all moves."""
    moving = [track.values[name] for name in _MOTION if name in track.values]
    if len(moving) < PAUSE_CHANNELS or not _may_pause(track, moving):
        return
    is_still = np.ones(len(track.t_ms) - 1, bool)
    for values in moving:
        # A channel that is blank in both rows has not moved either.
        is_still &= (values[1:] == values[:-1]) | (np.isnan(values[1:]) & np.isnan(values[:-1]))
    edges = np.flatnonzero(np.diff(np.concatenate(([False], is_still, [False]))))
    firsts, lasts = edges[::2], edges[1::2]
    is_long = track.seconds[lasts] - track.seconds[firsts] >= PAUSE_S
    for first, last in zip(firsts[is_long][:MOST_FINDINGS], lasts[is_long], strict=False):
        start, end = float(track.seconds[first]), float(track.seconds[last])
        said = f"nothing moves for {end - start:.1f} s: the simulator was paused, or the log was"
        yield Gate("pause", "note", None, int(last - first + 1), start, end, said)


def _may_pause(track: Track, moving: list[NDArray[np.float32]]) -> bool:
    """A look every half of PAUSE_S: a pause shows twice. Spares the whole-array work."""
    if len(track.t_ms) < 2:
        return False
    looks = np.searchsorted(track.t_ms, np.arange(track.t_ms[0], track.t_ms[-1], PAUSE_S * 500))
    is_same = np.ones(max(len(looks) - 1, 0), bool)
    for values in moving:
        seen = values[looks]
        is_same &= (seen[1:] == seen[:-1]) | (np.isnan(seen[1:]) & np.isnan(seen[:-1]))
    return bool(is_same.any())


def step_gates(track: Track) -> Iterator[Gate]:
    """A suspect channel for each altimeter step, a note for each jump."""
    altitude, heading = track.series("altitude_ft"), track.series("heading_deg")
    jumps: dict[float, str] = {}
    if heading is not None:
        far = np.flatnonzero(heading.far(JUMP_HEADING_DEG, JUMP_HEADING_DEG_PER_S))
        for at in far[:MOST_FINDINGS]:
            if _stays(heading, int(at), JUMP_HEADING_DEG, track.gap_limit_s):
                said = f"heading jumps by {heading.steps[at]:+.0f} deg"
                jumps[float(heading.seconds[at + 1])] = said
    if altitude is not None:
        yield from _altitude_steps(altitude, jumps, track.gap_limit_s)
    for second, said in sorted(jumps.items()):
        detail = f"{said} between two samples: the simulator was placed anew, or the log was joined"
        yield Gate("jump", "note", None, 1, second, second, detail)


def _altitude_steps(
    altitude: Series, jumps: dict[float, str], gap_limit_s: float
) -> Iterator[Gate]:
    """A gate for each altimeter step; a step that is none goes to `jumps`."""
    limit = max(STEP_FT, STEP_RESOLUTIONS * altitude.resolution)
    sizes = altitude.sizes
    candidates = np.flatnonzero(sizes > limit)
    if not len(candidates):
        return
    padded = np.concatenate(([0.0], sizes, [0.0]))
    around = np.maximum(padded[candidates], padded[candidates + 2])
    alone = candidates[sizes[candidates] > limit + 2 * around]
    is_jump = altitude.far(JUMP_ALTITUDE_FT, JUMP_ALTITUDE_FT_PER_S)
    for at in alone[:MOST_FINDINGS].tolist():
        step, second = float(altitude.steps[at]), float(altitude.seconds[at + 1])
        if not _stays(altitude, at, limit, gap_limit_s):
            continue
        if second in jumps or abs(step) > LARGEST_STEP_FT:
            if is_jump[at]:
                jumps[second] = f"altitude jumps by {step:+.0f} ft"
            continue
        said = (
            f"altitude steps by {step:+.0f} ft and stays there, as when an altimeter is set "
            f"{abs(step) / FT_PER_HPA:.1f} hPa {'higher' if step > 0 else 'lower'}"
        )
        yield Gate("altimeter_step", "suspect", altitude.name, 1, second, second, said)


def _stays(series: Series, at: int, limit: float, gap_limit_s: float) -> bool:
    """Whether what comes after a change lies as far from what was before it, and both are calm."""
    seconds = series.seconds
    if seconds[at + 1] - seconds[at] > gap_limit_s:
        return False
    start = int(np.searchsorted(seconds, seconds[at] - AROUND_S))
    end = int(np.searchsorted(seconds, seconds[at + 1] + AROUND_S, side="right"))
    before, after = series.steps[start:at], series.steps[at + 1 : end - 1]
    if not len(before) or not len(after):
        return False
    # Medians of where it was and came to, each as seen from the change itself.
    was = float(np.median(np.concatenate(([0.0], -np.cumsum(before[::-1])))))
    came = float(np.median(np.concatenate(([0.0], np.cumsum(after)))))
    drift = float(np.median(np.concatenate((before, after)))) * (len(before) + len(after)) / 2
    kept = float(series.steps[at]) + came - was - drift
    return abs(kept) > 0.6 * abs(float(series.steps[at])) and abs(kept) > 0.6 * limit
