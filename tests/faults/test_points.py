"""Killed, or out of room, at any point: nothing lost, nothing double, nothing half, no traceback."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.sizes import size

ROOT = Path(__file__).parents[2]


def sum_of(*arguments: str) -> tuple[int, int, int]:
    """Points tried, losses and tracebacks that the command counts in all."""
    command = [sys.executable, "-m", "tests.faults", *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    found = re.search(
        r"in all: (\d+) points tried, losses (\d+), tracebacks (\d+)$", done.stdout.strip()
    )
    assert found is not None, done.stderr
    tried, losses, tracebacks = map(int, found.groups())
    assert (done.returncode == 0) == (losses + tracebacks == 0)
    assert not losses, done.stderr
    return tried, losses, tracebacks


def test_pages_are_the_old_ones_or_the_new_ones_wherever_publishing_is_cut_short() -> None:
    tried, losses, tracebacks = sum_of("pages")
    assert tried > 30
    assert (losses, tracebacks) == (0, 0)


def test_work_cut_short_at_some_points_leaves_all_of_it_or_nothing() -> None:
    assert sum_of("land", "forget", "compact", "--how", "kill", "--most", "3") == (9, 0, 0)
    assert sum_of("land", "review", "--how", "full", "--most", "2") == (4, 0, 0)


@pytest.mark.slow
def test_work_cut_short_at_many_points_leaves_all_of_it_or_nothing() -> None:
    names = ("land", "forget", "compact", "sweep", "review", "backup")
    most = size(8, 60)
    tried, losses, tracebacks = sum_of(*names, "--most", str(most))
    assert tried > 7 * most
    assert (losses, tracebacks) == (0, 0)


@pytest.mark.slow
def test_measuring_cut_short_is_finished_by_the_next_run() -> None:
    assert sum_of("measure", "--most", "12") == (24, 0, 0)
