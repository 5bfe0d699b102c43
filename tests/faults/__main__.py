"""Cut every piece of work short at every point where it touches the disk, judge what is left, and count.

    python -m tests.faults                        all of it: kills and full disks (takes a while)
    python -m tests.faults land forget --most 20  some of it, at 20 points each, spread evenly

Exits with 0 only where nothing was lost, nothing was double or half, and nothing ended in a traceback.
"""

import argparse
import errno
import os
import shutil
import signal
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import get_args

from tests.faults.interposed import Fate, How, interpose
from tests.faults.scenarios import SCENARIOS, Scenario

ENDED, FULL, LOST, CRASHED = 0, 7, 8, 9


@dataclass
class Tally:
    """What came of all the points of one scenario."""

    scenario: str
    how: How
    points: int = 0
    tried: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    losses: int = 0
    tracebacks: int = 0

    @property
    def line(self) -> str:
        """The tally in one line."""
        told = ", ".join(f"{count} {outcome}" for outcome, count in sorted(self.outcomes.items()))
        return (
            f"{self.scenario:8} {self.how}: {self.tried:4} of {self.points:4} points tried; {told}; "
            f"losses {self.losses}, tracebacks {self.tracebacks}"
        )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run what is asked for, print a line each and a sum; gives the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("scenarios", nargs="*", help=f"of {', '.join(SCENARIOS)} (default: all)")
    parser.add_argument("--how", choices=get_args(How), help="only kill, or only full")
    parser.add_argument("--most", type=int, help="at most so many points of each, spread evenly")
    given = parser.parse_args(arguments)
    tallies = []
    for name in given.scenarios or SCENARIOS:
        for how in (given.how,) if given.how else get_args(How):
            tallies.append(run(SCENARIOS[name], how, given.most))
            print(tallies[-1].line, flush=True)
    tried, losses = sum(t.tried for t in tallies), sum(t.losses for t in tallies)
    crashes = sum(t.tracebacks for t in tallies)
    print(f"in all: {tried} points tried, losses {losses}, tracebacks {crashes}")
    return 1 if losses or crashes else 0


def run(scenario: Scenario, how: How, most: int | None) -> Tally:
    """Try a scenario at its points."""
    tally = Tally(scenario.name, how)
    with tempfile.TemporaryDirectory() as folder:
        start, whole = Path(folder) / "start", Path(folder) / "whole"
        must_end(lambda: scenario.prepare(start))
        shutil.copytree(start, whole)
        counted = Path(folder) / "points"
        must_end(lambda: counted.write_text(str(act(scenario, whole, Fate(0, how)))))
        tally.points = int(counted.read_text())
        for point in chosen(tally.points, most):
            root = Path(folder) / "try"
            shutil.copytree(start, root)
            try_point(scenario, root, whole, Fate(point, how), tally)
            shutil.rmtree(root)
    return tally


def chosen(points: int, most: int | None) -> list[int]:
    """The points to try: all of them, or some, the first and the last among them."""
    if most is None or most >= points:
        return list(range(1, points + 1))
    return sorted({1 + round(i * (points - 1) / max(most - 1, 1)) for i in range(most)})


def try_point(scenario: Scenario, root: Path, whole: Path, fate: Fate, tally: Tally) -> None:
    """Cut the work short at one point, judge what is left, count it."""
    tally.tried += 1
    status = in_child(lambda: act(scenario, root, fate))
    if status not in (-signal.SIGKILL, FULL):
        # A full disk may pass unnoticed where only a cache is lost: then the work has ended.
        tally.tracebacks += status != ENDED
    verdict = root.with_name("verdict")
    judged = in_child(lambda: verdict.write_text(scenario.judge(root, whole)))
    if judged == ENDED:
        tally.outcomes[verdict.read_text()] += 1
    else:
        tally.losses += 1
        print(f"{scenario.name} {tally.how}: the fault above is of point {fate.target}", flush=True)


def act(scenario: Scenario, root: Path, fate: Fate) -> int:
    """Do the work under its fate; gives how many points were passed."""
    interpose(fate)
    scenario.act(root)
    return fate.passed


def must_end(work: Callable[[], object]) -> None:
    """Do work in a process of its own that is to end well."""
    if in_child(work) != ENDED:
        raise SystemExit("the work failed without having been cut short")


def in_child(work: Callable[[], object]) -> int:
    """Do work in a forked process: how it ended, one of the codes above or minus the signal.

    This process starts no threads, so forking it is safe, and saves an interpreter's start per point.
    """
    pid = os.fork()
    if pid == 0:
        os._exit(outcome_of(work))
    _, status = os.waitpid(pid, 0)
    return os.waitstatus_to_exitcode(status)


def outcome_of(work: Callable[[], object]) -> int:
    """How work ended, as an exit code; what went wrong is printed."""
    try:
        work()
    except OSError as error:
        if error.errno == errno.ENOSPC:
            return FULL
        traceback.print_exc()
        return CRASHED
    except AssertionError:
        traceback.print_exc()
        return LOST
    except BaseException:  # noqa: BLE001 - whatever it is, it is told and counted
        traceback.print_exc()
        return CRASHED
    return ENDED


if __name__ == "__main__":
    sys.exit(main())
