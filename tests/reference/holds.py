"""How a channel was held over a maneuver: bias, spread, containment, drift."""

import math
from dataclasses import dataclass

from tests.reference.sessions import Limits, Point, Window, remembered


@dataclass(frozen=True)
class Hold:
    """The figures of one channel over one maneuver; all None where no two neighbours were observed."""

    sample_count: int
    observed_s: float | None = None
    reference: float | None = None
    median: float | None = None
    mean: float | None = None
    spread: float | None = None
    rms: float | None = None
    mean_absolute: float | None = None
    largest: float | None = None
    hold95: float | None = None
    drift_per_min: float | None = None


BIN_NAMES = {
    "altitude": "altitude_bin_ft",
    "heading": "heading_bin_deg",
    "airspeed": "airspeed_bin_kt",
}


def weights_of(stretches: list[list[Point]]) -> list[tuple[int, float, float]]:
    """Each point with the time in seconds that it stands for: half of the known steps on both sides."""
    found = []
    for stretch in stretches:
        for i, (t, value) in enumerate(stretch):
            before = t - stretch[i - 1][0] if i > 0 else 0
            after = stretch[i + 1][0] - t if i + 1 < len(stretch) else 0
            found.append((t, value, (before + after) / 2000))
    return found


def nearest_bin(value: float, width: float) -> int:
    """The number of the bin whose middle is nearest; halfway goes away from zero."""
    return int(math.copysign(math.floor(abs(value) / width + 0.5), value))


@remembered
def hold_of(window: Window, channel: str, limits: Limits) -> Hold | None:
    """The figures of one channel; None where it has no sample in the maneuver.

    Airspeed is judged about the maneuver's own median, everything else about 0.
    """
    points = weights_of(window.stretches(channel))
    if not points:
        return None
    observed_s = math.fsum(w for _, _, w in points)
    if observed_s == 0:
        return Hold(len(points))
    width = limits[BIN_NAMES[channel]] if channel in BIN_NAMES else None
    middle = _median_bin(points, width, observed_s) if width else None
    is_about_median = channel == "airspeed"
    reference = middle * width if is_about_median and middle is not None and width else 0.0
    errors = [(t, v - reference, w) for t, v, w in points]
    mean = _mean([(v, w) for _, v, w in errors])
    variance = _mean([((v - mean) ** 2, w) for _, v, w in errors])
    reference_bin = middle if is_about_median and middle is not None else 0
    return Hold(
        sample_count=len(points),
        observed_s=observed_s,
        reference=reference,
        median=middle * width if middle is not None and width else None,
        mean=mean,
        spread=math.sqrt(variance),
        rms=math.sqrt(_mean([(v * v, w) for _, v, w in errors])),
        mean_absolute=_mean([(abs(v), w) for _, v, w in errors]),
        largest=max(abs(v) for _, v, _ in errors),
        hold95=_hold(points, width, reference_bin, limits["hold_share"]) if width else None,
        drift_per_min=_drift(errors),
    )


def _mean(weighted: list[tuple[float, float]]) -> float:
    return math.fsum(v * w for v, w in weighted) / math.fsum(w for _, w in weighted)


def _median_bin(points: list[tuple[int, float, float]], width: float, observed_s: float) -> int:
    """The lowest bin up to which half of the observed time lies."""
    binned = sorted((nearest_bin(v, width), w) for _, v, w in points)
    passed = 0.0
    for number, weight in binned:
        passed += weight
        if passed >= observed_s / 2 * (1 - 1e-12):
            return number
    return binned[-1][0]


def _hold(
    points: list[tuple[int, float, float]], width: float, reference_bin: int, share: float
) -> float:
    """The smallest band, in steps of the bin, that contains `share` of the observed time."""
    distances = sorted((abs(nearest_bin(v, width) - reference_bin), w) for _, v, w in points)
    needed = share * math.fsum(w for _, w in distances) * (1 - 1e-12)
    passed = 0.0
    for distance, weight in distances:
        passed += weight
        if passed >= needed:
            return distance * width
    return distances[-1][0] * width


def _drift(errors: list[tuple[int, float, float]]) -> float | None:
    """The weighted least-squares slope per minute."""
    total = math.fsum(w for _, _, w in errors)
    mean_t = math.fsum(t * w for t, _, w in errors) / total
    mean_v = math.fsum(v * w for _, v, w in errors) / total
    spread = math.fsum(w * (t - mean_t) ** 2 for t, _, w in errors)
    if spread == 0:
        return None
    return 60_000 * math.fsum(w * (t - mean_t) * (v - mean_v) for t, v, w in errors) / spread
