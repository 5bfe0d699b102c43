"""Heads of 6,300, 63,000 and 630,000 entries: what building, reading and comparing them takes.

Run: python -m tests.bench.heads. Processor time and peak memory, each size in a process of its own; the
floor is the JSON library reading the same bytes. No object store is asked: this is what one machine does.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from pipeline.afar.clearing import named_objects
from pipeline.afar.folder import Held, Holding, files_below, read_holding, write_holding
from pipeline.afar.heads import Entry, Head, content_of, go_together, head_of
from tests.bench.machine import machine

SIZES = (6_300, 63_000, 630_000)
Given = TypeVar("Given")


def entries(count: int) -> dict[str, Entry]:
    """As many files as some nights leave, with names and digests of the true length."""
    return {
        f"measures/0123456789abcdef/relation_{n % 21:02d}/session_date=2026-{1 + n % 12:02d}-01/"
        f"b20260101T{n // 21:06d}Z-{n % 997:06x}.parquet": Entry(f"{n:064x}", 5_000 + n % 999)
        for n in range(count)
    }


def timed(what: str, floor: float, work: Callable[[], Given]) -> Given:
    """Do it, and print the processor time that it took, also as a multiple of the floor."""
    began = time.process_time()
    found = work()
    took = time.process_time() - began
    ratio = f"{took / floor:5.1f} x" if floor else "      -"
    print(f"  {what:<34} {took:8.3f} s {ratio}", flush=True)
    return found


def one(count: int) -> None:
    """Measure one size, in this process."""
    files = entries(count)
    began_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    content = content_of(Head(1, files))
    began = time.process_time()
    json.loads(content)
    floor = time.process_time() - began
    print(f"{count:,} entries, {len(content) / 1e6:.1f} MB; floor: JSON reads it in {floor:.3f} s")
    timed("build and write", floor, lambda: content_of(Head(1, dict(sorted(files.items())))))
    head = timed("read", floor, lambda: head_of(content, 1))
    mine = dict(list(files.items())[:21])
    timed(
        "compare with a head of others",
        floor,
        lambda: go_together(head, Head(2, files), mine, frozenset()),
    )
    timed("names of all objects", floor, lambda: named_objects(head))
    held = Holding({path: Held(entry, 1) for path, entry in files.items()})
    with tempfile.TemporaryDirectory() as name:
        timed(
            "state of a cache, written", floor, lambda: write_holding(Path(name), "s3://b/p", held)
        )
        timed("state of a cache, read", floor, lambda: read_holding(Path(name), "s3://b/p"))
        if count <= SIZES[1]:
            for path in files:
                (Path(name) / path).parent.mkdir(parents=True, exist_ok=True)
                (Path(name) / path).touch()
            timed("look a cache's folder over", floor, lambda: list(files_below(Path(name))))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"  most memory {peak / 1024:.0f} MB, of which the entries of this bench {began_bytes / 1024:.0f} MB"
    )


def main() -> None:
    """Each size in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--one", type=int)
    asked = parser.parse_args()
    if asked.one is not None:
        one(asked.one)
        return
    print(machine(), flush=True)
    for size in SIZES:
        subprocess.run([sys.executable, "-m", "tests.bench.heads", "--one", str(size)], check=True)


if __name__ == "__main__":
    main()
