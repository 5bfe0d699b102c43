"""How often samples come: gaps, and a rate that changes in the middle of a log."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from pipeline.land.checks.track import Track
from pipeline.land.gates import Gate

MIXED_SHARE: Final = 0.1
"""Ours: of the observed time, in steps more than twice or less than half the usual one."""

LEAST_STEPS: Final = 20


def rate_gates(track: Track) -> Iterator[Gate]:
    """Notes on gaps and on mixed rates: neither is a fault, both say what the figures rest on."""
    steps, seconds = track.steps_s, track.seconds
    if len(steps) < LEAST_STEPS or steps.max() <= 2 * track.median_step_s < 4 * steps.min():
        return
    is_gap = steps > track.gap_limit_s
    gaps = np.flatnonzero(is_gap)
    if len(gaps):
        lost, longest = float(steps[gaps].sum()), float(steps[gaps].max())
        count = "1 gap" if len(gaps) == 1 else f"{len(gaps)} gaps"
        said = f"{count} of {lost:.1f} s in all, the longest {longest:.1f} s: time not observed"
        start, end = float(seconds[gaps[0]]), float(seconds[gaps[-1] + 1])
        yield Gate("gaps", "note", None, len(gaps), start, end, said)
    usual = track.median_step_s
    is_other = ~is_gap & ((steps > 2 * usual) | (steps < usual / 2))
    other_s, observed_s = float(steps[is_other].sum()), float(steps[~is_gap].sum())
    if other_s > MIXED_SHARE * observed_s:
        typical = float(np.median(steps[is_other]))
        said = (
            f"samples come every {usual:g} s, but during {other_s:.0f} of {observed_s:.0f} s "
            f"at another rate, such as every {typical:g} s"
        )
        yield Gate("mixed_rates", "note", None, int(is_other.sum()), None, None, said)
