"""The table of speed and size: every promise, what it is measured against, and what was reached.

Run: python -m tests.bench [--sessions N] [--logs N]; 40 sessions of an hour at 10 Hz and 12 logs unless told,
about five minutes. Floors and peers run in the same process on one thread, and times are processor time,
so that a busy machine shows less; still compare the rows of one run only. How a night grows with its store
takes longer and has its own command, tests/bench/growth.py.
"""

import argparse
import hashlib
import resource
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow.parquet as pq

from pipeline.measure import measure_group
from pipeline.measure.group import ROWS_AT_ONCE
from pipeline.store import Warehouse
from tests.bench.landing import measured as landed
from tests.bench.machine import machine
from tests.bench.measuring import (
    bytes_of_a_full_sample,
    fly_school,
    megabytes_of_worker,
    seconds_of_help,
    time_relations,
    time_unit,
    unit_of,
)
from tests.bench.peers import compared

PEERS = {
    "a pandas loop per maneuver": (15, 25),
    "pandas, vectorised": (5, 10),
    "polars, lazy": (1.2, 2),
}


MANY_PASSES = "some 45 relations, each a pass over what lies within maneuvers"
PEERS_DO_LESS = "a peer makes these figures only, from dense channels, without reasons"
LIMITS = {
    "measuring, assigned tasks": MANY_PASSES,
    "measuring with the search": MANY_PASSES + ", then all of the session within them",
    "the file measured and written by a night": MANY_PASSES + "; planning them anew in every go",
    "peak memory of a worker": "libraries 100 MB; a go of 800,000 samples the rest",
    "a sample with every channel": "invented noise fills every bit of a 32-bit float",
    "hold and settling figures": PEERS_DO_LESS,
    "landing clean logs": "reading, two digests, encoding and writing are 1.9 x by themselves",
    "landing dirty logs": "a column with words is read a second time, as text, line by line",
}
"""What keeps a row from its goal."""


@dataclass(frozen=True)
class Row:
    """One promise and what was reached; `is_speedup` where more is better."""

    what: str
    against: str
    gate: float | None
    goal: float
    reached: float
    unit: str = "x"
    is_speedup: bool = False

    @property
    def verdict(self) -> str:
        """The highest of its marks that the row reaches."""
        marks = {"goal met": self.goal, "gate held": self.gate}
        for name, mark in marks.items():
            if mark is not None and (
                self.reached >= mark if self.is_speedup else self.reached <= mark
            ):
                return name
        return "MISSED"

    @property
    def limit(self) -> str:
        """What keeps the row from its goal; nothing where it met it."""
        return "" if self.verdict == "goal met" else LIMITS.get(self.what, "not known")

    def __str__(self) -> str:
        gate = "-" if self.gate is None else f"{self.gate:g} {self.unit}"
        return (
            f"| {self.what} | {self.against} | {gate} | {self.goal:g} {self.unit} | "
            f"{self.reached:.2f} {self.unit} | {self.verdict} | {self.limit} |"
        )


def measuring(warehouse: Warehouse, folder: Path) -> Iterator[Row]:
    """Time, memory and bytes of measuring one file."""
    scan = "summing the same columns"
    unit_s = time_unit(warehouse)
    for what, is_searched, gate, goal in (
        ("measuring, assigned tasks", False, 10, 5),
        ("measuring with the search", True, 15, 8),
    ):
        floor, took = time_relations(warehouse, is_searched=is_searched)
        yield Row(what, scan, gate, goal, sum(took.values()) / floor)
    yield Row("the file measured and written by a night", scan, 15, 8, unit_s / floor)
    yield Row("peak memory of a worker", "-", 500, 200, megabytes_of_worker(warehouse), "MB")
    _, size = bytes_of_a_full_sample(folder / "full")
    yield Row("a sample with every channel", "-", 26, 20, size, "bytes")


def peers(count: int) -> Iterator[Row]:
    """The hold and settling figures by other means, found equal first."""
    _, least = compared(count)
    for name, (gate, goal) in PEERS.items():
        ratio = least[name] / least["sql"]
        yield Row("hold and settling figures", name, gate, goal, ratio, is_speedup=True)


def landing(count: int, folder: Path) -> Iterator[Row]:
    """Logs from CSV to a committed batch."""
    for found in landed(count, folder):
        yield Row(f"landing {found.kind} logs", "the same reader parsing", 2.5, 1.6, found.ratio)


def other_bits(warehouse: Warehouse) -> int:
    """How many files differ where the school is measured in few large goes and in many small ones."""
    digests = []
    for name, rows in (("large", ROWS_AT_ONCE), ("small", ROWS_AT_ONCE // 8)):
        measure_group((unit_of(warehouse, name),), rows)
        root = warehouse.measures / name
        digests.append(
            {
                str(path.relative_to(root)): hashlib.sha256(_rows(path)).hexdigest()
                for path in sorted(root.rglob("*.parquet"))
            }
        )
    large, small = digests
    return sum(large.get(file) != small.get(file) for file in large.keys() | small.keys())


def _rows(path: Path) -> bytes:
    """The rows of a file: its footer names the definitions, which differ in name."""
    return repr(pq.read_table(path).to_pylist()).encode()


def main() -> None:
    """Print the rows as they are known."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=40)
    parser.add_argument("--logs", type=int, default=12)
    asked = parser.parse_args()
    print(machine())
    print("| what | against, same run | gate | goal | reached | | what limits it |")
    print("|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        warehouse = fly_school(folder / "school", asked.sessions)
        for row in measuring(warehouse, folder):
            print(row, flush=True)
        for row in peers(asked.sessions):
            print(row, flush=True)
        for row in landing(asked.logs, folder / "logs"):
            print(row, flush=True)
        help_s = min(seconds_of_help() for _ in range(3))
        print(Row("`levelhold --help`", "-", 0.5, 0.25, help_s, "s"))
        print(
            f"files that differ when measured in eight times as many goes: {other_bits(warehouse)}"
        )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this whole run, with flying the school: {peak:.0f} MB")


if __name__ == "__main__":
    main()
