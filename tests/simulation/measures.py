"""What a run of the rule over invented students achieved, as counts that add up over chunks."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from tests.simulation.fold import Folded
from tests.simulation.forecast import NEVER, Forecasts
from tests.simulation.rule import Levels
from tests.simulation.world import DAYS, Bools, Cohorts, Ints

MONTHS = DAYS / 30
LOOKS = (3, 4, 5, 6, 10)
COVERAGE_SESSIONS = (3, 4, 6, 10, 16)
INTERVALS = {80: 1.2816, 95: 1.959964}


@dataclass
class Share:
    """So many of so many."""

    hits: float = 0.0
    total: float = 0.0

    def add(self, hits: float, total: float) -> None:
        """Count some more."""
        self.hits += hits
        self.total += total

    @property
    def value(self) -> float:
        """The share; NaN of nothing."""
        return self.hits / self.total if self.total else float("nan")

    def bound(self, *, is_upper: bool) -> float:
        """One-sided 95 % bound (Wilson's) for the share, for it is itself simulated."""
        z, n = 1.645 if is_upper else -1.645, self.total
        middle = self.value + z**2 / (2 * n)
        reach = z * np.sqrt(self.value * (1 - self.value) / n + z**2 / (4 * n**2))
        return float((middle + reach) / (1 + z**2 / n))


@dataclass
class Tally:
    """All counts of one world under one rule."""

    by_look: dict[tuple[str, int], Share] = field(default_factory=lambda: defaultdict(Share))
    raised: dict[str, Share] = field(default_factory=lambda: defaultdict(Share))  # per month
    standing: dict[str, Share] = field(default_factory=lambda: defaultdict(Share))
    coverage: dict[tuple[str, int, int], Share] = field(default_factory=lambda: defaultdict(Share))
    waits_days: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    waits_sessions: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    flaps: Share = field(default_factory=Share)
    right_flags: Share = field(default_factory=Share)
    found: Share = field(default_factory=Share)
    forecast: dict[tuple[str, str], Share] = field(default_factory=lambda: defaultdict(Share))
    stated: dict[str, Share] = field(default_factory=lambda: defaultdict(Share))

    def add(self, c: Cohorts, levels: Levels, folded: Folded) -> None:
        """Count one chunk of cohorts."""
        for place, kind in enumerate(c.kind):
            self._add_student(c, folded, place, kind)
        self._add_coverage(c, levels)
        self._add_flaps(c, folded)
        self._add_precision(c, levels, folded)

    def _add_student(self, c: Cohorts, folded: Folded, place: int, kind: str) -> None:
        counts, raised = c.counts[:, place], folded.raised[:, place]
        for look in LOOKS:
            enough = counts >= look
            hits = raised[:, :look].any(axis=1) & enough
            self.by_look[kind, look].add(hits.sum(), enough.sum())
        self.raised[kind].add(raised.sum(), len(counts) * MONTHS)
        self.standing[kind].add(folded.flagged[:, place].sum(), counts.sum())
        ever = raised.any(axis=1)
        first = np.take_along_axis(c.day[:, place], raised.argmax(axis=1)[:, None], axis=1)[:, 0]
        self.waits_days[kind] += np.where(ever, first - c.day[:, place, 0], np.inf).tolist()
        if kind in ("slipping", "step"):
            self.waits_sessions[kind] += _sessions_to_flag(c, folded, place)

    def _add_coverage(self, c: Cohorts, levels: Levels) -> None:
        groups = {"all": _places(c, lambda kind: True)}
        groups["steady"] = _places(c, lambda kind: kind.startswith(("steady", "random")))
        groups["learners"] = _places(c, lambda kind: kind == "learner")
        for percent, z in INTERVALS.items():
            with np.errstate(invalid="ignore"):
                inside = np.abs(c.truth - levels.level) <= z * levels.sd
            for name, places in groups.items():
                for session in COVERAGE_SESSIONS:
                    there = c.counts[:, places] >= session
                    hits = inside[:, places, session - 1] & there
                    self.coverage[name, percent, session].add(hits.sum(), there.sum())

    def _add_flaps(self, c: Cohorts, folded: Folded) -> None:
        """Flags that came back within 14 days of clearing."""
        flaps = 0
        for cohort, student in np.argwhere(folded.cleared.any(axis=2)):
            days = c.day[cohort, student]
            cleared = days[folded.cleared[cohort, student]]
            raised = days[folded.raised[cohort, student]]
            gaps = raised[:, None] - cleared[None, :]
            flaps += int(((gaps > 0) & (gaps <= 14)).sum())
        self.flaps.add(flaps, c.counts.size * MONTHS)

    def _add_precision(self, c: Cohorts, levels: Levels, folded: Folded) -> None:
        places = _places(c, lambda kind: kind == "random")
        flown, flagged = c.flown[:, places], folded.flagged[:, places]
        outside = c.truth[:, places] > 0
        self.right_flags.add((flagged & outside).sum(), flagged.sum())
        judged = flown & outside & (np.arange(flown.shape[2]) >= 9)
        self.found.add((flagged & judged).sum(), judged.sum())
        z = levels.z[:, places]
        for name, low, high in (("0.65", 0.25, 0.53), ("0.88", 1.04, 1.34), ("0.99", 2.05, 9)):
            here = flown & (z >= low) & (z < high)
            self.stated[name].add((here & outside).sum(), here.sum())

    def add_forecasts(self, c: Cohorts, told: Forecasts, truth: Ints) -> None:
        """Count one chunk's forecasts, learners apart from those who do not learn."""
        for kind in ("learner", "steady 1.5"):
            places = [i for i, k in enumerate(c.kind) if k == kind]
            here = told.is_told[:, places]
            low, high, true = (a[:, places][here] for a in (told.earliest, told.latest, truth))
            is_bound = (low >= 1) & (low < NEVER)
            is_interval = high < NEVER
            self.forecast[kind, "lower bound told"].add(is_bound.sum(), here.sum())
            right = (np.minimum(low, NEVER) <= true) | (low >= NEVER) & (true >= NEVER)
            self.forecast[kind, "lower bound right"].add(right.sum(), here.sum())
            self.forecast[kind, "lower bound right where told"].add(
                (right & is_bound).sum(), is_bound.sum()
            )
            covered = (low <= true) & (true <= high)
            self.forecast[kind, "interval told"].add(is_interval.sum(), here.sum())
            self.forecast[kind, "interval right"].add(
                (covered & is_interval).sum(), is_interval.sum()
            )

    def mean_coverage(self, group: str, percent: int) -> float:
        """Coverage averaged over the sessions looked at."""
        return float(np.mean([self.coverage[group, percent, s].value for s in COVERAGE_SESSIONS]))

    def wait(self, waits: Iterable[float], quantile: float) -> float:
        """A quantile of waits, those never flagged waiting for ever."""
        return float(np.quantile(np.array(list(waits)), quantile, method="higher"))


def _places(c: Cohorts, wanted: Callable[[str], bool]) -> list[int]:
    return [i for i, kind in enumerate(c.kind) if wanted(kind)]


def _sessions_to_flag(c: Cohorts, folded: Folded, place: int) -> list[float]:
    """Sessions from truly crossing the standard to a flag, of students with ten sessions to go."""
    out: list[float] = []
    outside: Bools = c.truth[:, place] > 0
    for cohort in np.flatnonzero(outside.any(axis=1)):
        first = int(outside[cohort].argmax())
        if c.counts[cohort, place] - first < 10:
            continue
        after = folded.flagged[cohort, place, first:]
        out.append(float(after.argmax() + 1) if after.any() else np.inf)
    return out
