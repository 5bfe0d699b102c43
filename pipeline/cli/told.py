"""How a command tells its report: lines or JSON on standard output, progress on a terminal."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from pipeline.cli.tables import plain
from pipeline.reports import Finding, Outcome, WorkReport

if TYPE_CHECKING:
    from pipeline.measure.shards import ShardReport


STAGES = {
    "land": "reading the inbox",
    "measure": "measuring",
    "tell": "working out who needs work",
    "pages": "writing the pages",
}
"""The stages of a night in words, as a terminal shows them."""


def tell(report: object, lines: Iterable[str], is_json: bool) -> None:
    """Print a report on standard output, as lines or as JSON."""
    if is_json:
        print(json.dumps(plain(report), ensure_ascii=False, indent=1))
    else:
        print(*lines, sep="\n")


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """A function that shows how many of how many are done, on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


@contextmanager
def stage_shown() -> Iterator[Callable[[str], None]]:
    """A function that shows which stage the run is in, on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda stage: None
        return
    from rich.console import Console

    with Console(stderr=True).status("") as status:
        yield lambda stage: status.update(f"{STAGES.get(stage, stage)} ...")


def measuring_lines(report: WorkReport) -> Iterator[str]:
    """How many samples files were measured, were current, or failed and why."""
    done, current = report.count(Outcome.DONE), report.count(Outcome.CURRENT)
    yield f"measured {count(done, 'unit')} of work, {current} already current"
    for unit in report.units:
        if unit.outcome is Outcome.FAILED:
            yield f"failed {unit.unit}: {unit.detail}"


def shard_lines(report: "ShardReport") -> Iterator[str]:
    """What one share measured, and whether the array is to be run once more."""
    yield from measuring_lines(report.work)
    if report.awaited:
        yield (
            f"{count(report.awaited, 'samples file')} of other shares not measured yet: when all shards have "
            "ended, run them once more for what rests on the devices' neutrals"
        )


def finding_lines(findings: list[Finding]) -> Iterator[str]:
    """What is wrong with a store, each with how to mend it."""
    for finding in findings:
        yield f"{finding.check}: {finding.sentence}"
        yield f"    {finding.mend}"
    faults = sum(finding.is_damage for finding in findings)
    if len(findings) > faults:
        yield f"{count(len(findings) - faults, 'file')} of figures to be computed again"
    yield f"{count(faults, 'fault')} found" if faults else "no fault found"


def count(number: int, noun: str) -> str:
    """A number of things, the noun in the plural where it needs to be."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
