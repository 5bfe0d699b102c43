"""Coarse channels: recorded in steps so large that figures in feet and degrees inherit them.

A step of q feet adds q / sqrt(12) feet of scatter. For scale: 14 CFR Part 91, Appendix E lets a small
aeroplane's recorder keep altitude to 25 to 150 ft and altitude rate to 250 ft/min.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from pipeline.land.checks.track import Track
from pipeline.land.gates import Gate, Severity

_LIMITS: Final = {
    "altitude_ft": (10.0, 50.0),
    "heading_deg": (2.0, 5.0),
    "vertical_speed_fpm": (100.0, 250.0),
    "airspeed_kt": (2.0, 10.0),
}
"""Ours: steps from the first on are noted, from the second on the channel is suspect."""

LEAST_CHANGES: Final = 20


def coarse_gates(track: Track) -> Iterator[Gate]:
    """One gate for each channel whose smallest change is a large one."""
    for name, (noted, doubted) in _LIMITS.items():
        series = track.series(name)
        # A value a hair above a limit is the limit, rounded to float32 or converted from metres.
        if series is None or series.resolution < noted * (1 - 1e-3):
            continue
        changes = int(np.count_nonzero(series.sizes))
        if changes >= LEAST_CHANGES:
            severity: Severity = "suspect" if series.resolution >= doubted * (1 - 1e-3) else "note"
            said = (
                f"{name} is recorded in steps of {series.resolution:.4g}, which alone scatter it by "
                f"{series.resolution / np.sqrt(12):.2g}"
            )
            yield Gate("coarse_channel", severity, name, len(series.values), None, None, said)
