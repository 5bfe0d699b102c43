"""The goals that the flag rule was given, beside what a study found."""

from collections.abc import Iterator
from dataclasses import dataclass

from tests.simulation.measures import COVERAGE_SESSIONS, Share, Tally


@dataclass(frozen=True)
class Goal:
    """One figure beside its gate and its goal; `is_upper`: it is to stay below them."""

    name: str
    found: float
    bound: float
    gate: float
    goal: float
    is_upper: bool

    @property
    def is_met(self) -> bool:
        """Whether the gate holds, the figure being itself simulated (one-sided 95 % bound)."""
        return self.bound <= self.gate if self.is_upper else self.bound >= self.gate

    @property
    def verdict(self) -> str:
        """In words."""
        good = self.found <= self.goal if self.is_upper else self.found >= self.goal
        short = abs(self.found - self.goal)
        return (
            "goal met" if good else f"goal missed by {short:.4f}" if self.is_met else "GATE FAILED"
        )


def goals(
    t: dict[str, Tally], level_only: Tally, trim: Tally, held: Tally, learn: Tally
) -> Iterator[Goal]:
    """The goals that were set, and what was found; trim by its median held, and by its mean."""
    base, noisy, devices = t["as assumed"], t["day 0.40"], t["devices differ by 0.20"]
    yield _atleast("2.0 flagged by session 4", base.by_look["steady 2", 4], 0.95, 0.98)
    yield _atleast("2.0 flagged by session 4, day 0.40", noisy.by_look["steady 2", 4], 0.93, 0.95)
    yield _atleast("2.0 flagged by session 5, day 0.40", noisy.by_look["steady 2", 5], 0.95, 0.97)
    yield _atleast(
        "trim (median held): 2.0 flagged by session 4", trim.by_look["steady 2", 4], 0.94, 0.97
    )
    yield _rate("trim (median held): new flags at 0.6", trim.raised["steady 0.6"], 0.02, 0.005)
    yield _atleast("1.5 flagged by session 6", base.by_look["steady 1.5", 6], 0.90, 0.94)
    yield _atleast("1.5 flagged by session 10", base.by_look["steady 1.5", 10], 0.97, 0.99)
    yield _rate("new flags at 0.6, level alone", level_only.raised["steady 0.6"], 0.01, 0.003)
    yield _rate("new flags at 0.6, slipping included", base.raised["steady 0.6"], 0.01, 0.005)
    months = base.raised["steady 0.6"].total
    rate = 2 * base.raised["steady 0.6"].value + held.raised["steady 0.6"].value
    three = Share(rate * months, months)
    yield _rate("new flags at 0.6, altitude, heading or trim", three, 0.02, 0.01)
    yield _rate("new flags at 0.4", base.raised["steady 0.4"], 0.001, 0.0)
    yield _rate("new flags at 0.8", base.raised["steady 0.8"], 0.10, 0.06)
    yield _rate("flags back within 14 days of clearing", base.flaps, 0.0, 0.0, is_exact=True)
    for percent, gate, goal in ((80, 0.05, 0.03), (95, 0.03, 0.02)):
        off = max(
            abs(base.coverage["all", percent, s].value - percent / 100) for s in COVERAGE_SESSIONS
        )
        yield Goal(f"coverage of {percent} %, worst session, off by", off, off, gate, gate, True)
        mean = abs(base.mean_coverage("all", percent) - percent / 100)
        yield Goal(f"coverage of {percent} %, mean, off by", mean, mean, gate, goal, True)
    for group in ("steady", "learners"):
        worst = min(base.coverage[group, 80, s].value for s in COVERAGE_SESSIONS)
        yield Goal(f"coverage of 80 %, {group}, worst session", worst, worst, 0.72, 0.77, False)
    for kind in ("slipping", "step"):
        wait = base.wait(base.waits_sessions[kind], 0.8)
        yield Goal(f"{kind}: sessions to a flag, 80 % within", wait, wait, 8, 6, True)
    f = learn.forecast
    yield _atleast("forecast: lower bound right", f["learner", "lower bound right"], 0.80, 0.84)
    yield _atleast("forecast: interval right", f["learner", "interval right"], 0.70, 0.80)
    yield _rate("devices 0.20: new flags at 0.6", devices.raised["steady 0.6"], 0.02, 0.006)
    yield _atleast(
        "devices 0.20: 2.0 flagged by session 4", devices.by_look["steady 2", 4], 0.93, 0.97
    )


def _atleast(name: str, share: Share, gate: float, goal: float) -> Goal:
    return Goal(name, share.value, share.bound(is_upper=False), gate, goal, False)


def _rate(name: str, rate: Share, gate: float, goal: float, *, is_exact: bool = False) -> Goal:
    """Events per student-month, with a Poisson bound."""
    bound = (
        rate.value
        if is_exact
        else (rate.hits + 1.645 * (rate.hits + 0.7) ** 0.5 + 1.4) / rate.total
    )
    return Goal(name, rate.value, bound, gate, goal, True)
