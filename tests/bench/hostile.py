"""Hostile inputs at full size, each landed by a process of its own: how it ended, its memory, its time.

    python -m tests.bench.hostile                  full sizes: some minutes, 10 GB of disk, 3 GB of memory
    python -m tests.bench.hostile --share 0.01     the same, a hundredth of the size

Exits with 0 only where each input ended as it should, with nothing but sentences.
"""

import argparse
import gzip
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.settings import Landing, Settings
from tests.inboxes import School, rules_of, school_with, session_line

GIGABYTE = 1_000_000_000
CHUNK = 10_000_000
HEADING = "time_s,altitude_ft,heading_deg"

HEAD = """\
| input | what it is | ended | peak memory (MB) | time (s) | of it processor |
|---|---|---|---|---|---|"""

Write = Callable[[School, float], None]


@dataclass(frozen=True)
class Hostile:
    """One input: what it is, how it is written at a share of its size, and how it is to end.

    `ends` are the rules that refuse it; `landed` how many sessions land all the same.
    """

    name: str
    write: Write
    ends: tuple[str, ...] = ()
    landed: int = 1
    max_columns: int = 500


def usual(school: School, share: float) -> None:
    """Nothing but the sound session that lies beside each of the others: what the program itself takes."""


def zeros_packed(school: School, share: float) -> None:
    """10 GB of zeros in 10 MB of gzip."""
    pack(school, b"\0", 10 * share)


def members_packed(school: School, share: float) -> None:
    """4 million empty gzip members, 80 MB."""
    school.put("logs/H.csv.gz", gzip.compress(b"") * int(4_000_000 * share))


def line_packed(school: School, share: float) -> None:
    """One line of 4 GB without an end, in gzip."""
    pack(school, b"9", 4 * share)


def pack(school: School, byte: bytes, gigabytes: float) -> None:
    """A gzip log of one byte over and over."""
    with gzip.open(school.put("logs/H.csv.gz", b""), "wb", 1) as packed:
        packed.write(f"{HEADING}\n0,4000,".encode())
        for _ in range(int(gigabytes * GIGABYTE / CHUNK)):
            packed.write(byte * CHUNK)


def line(school: School, share: float) -> None:
    """One line of 3 GB without an end."""
    with school.put("logs/H.csv", f"{HEADING}\n0,4000,").open("ab") as log:
        for _ in range(int(3 * share * GIGABYTE / CHUNK)):
            log.write(b"9" * CHUNK)


def line_within(school: School, share: float) -> None:
    """A cell of 200 MB, within the limit of a log."""
    school.put("logs/H.csv", f"{HEADING}\n0,4000,{'9' * int(200_000_000 * share)}\n")


def heading(school: School, share: float) -> None:
    """A heading of 200 MB, within the limit of a log."""
    school.put("logs/H.csv", f"{HEADING}{',x' * int(100_000_000 * share)}\n0,4000,90\n")


def rows(school: School, share: float) -> None:
    """10 million samples, within the limit of a log."""
    count = int(10_000_000 * share)
    with school.put("logs/H.csv", f"{HEADING}\n").open("a") as log:
        for start in range(0, count, 100_000):
            some = range(start, min(start + 100_000, count))
            log.writelines(f"{i / 100:.2f},{4000 + i % 7},{90 + i % 3}\n" for i in some)


def ragged(school: School, share: float) -> None:
    """20 million rows with a cell too many."""
    school.put("logs/H.csv", f"{HEADING}\n" + "0,4000,90,1\n" * int(20_000_000 * share))


def columns(school: School, share: float) -> None:
    """5,000 columns of 2,000 rows, where the school allows so many."""
    extra = ",".join(f"c{i}" for i in range(4997))
    ones = ",1" * 4997
    many = "".join(f"{i},{4000 + i % 7},{90 + i % 3}{ones}\n" for i in range(int(2000 * share)))
    school.put("logs/H.csv", f"{HEADING},{extra}\n{many}")


def parquet(school: School, share: float) -> None:
    """2 billion samples in a small Parquet file: a dictionary of one value."""
    group = pa.table({name: pa.repeat(0.0, 20_000_000) for name in HEADING.split(",")})
    with pq.ParquetWriter(school.put("logs/H.parquet", b""), group.schema) as writer:
        for _ in range(max(1, int(100 * share))):
            writer.write_table(group)


def tiny_files(school: School, share: float) -> None:
    """100,000 logs of one byte, each with a row."""
    names = [f"T{i}" for i in range(int(100_000 * share))]
    for name in names:
        school.put(f"logs/{name}.csv", "x")
    school.sessions(session_line("S1"), *map(session_line, names))


def links(school: School, share: float) -> None:
    """Links to a device that never ends, to themselves, out of the inbox; a pipe nobody writes to."""
    logs = school.inbox / "logs"
    (logs / "H.csv").symlink_to("/dev/zero")
    (logs / "H1.csv").symlink_to(logs / "H1.csv")
    (logs / "H2.csv").symlink_to("/etc/passwd")
    os.mkfifo(logs / "H3.csv")


HOSTILE = {
    hostile.name: hostile
    for hostile in (
        Hostile("usual", usual),
        Hostile("zeros_packed", zeros_packed, ("too_large",)),
        Hostile("members_packed", members_packed, ("empty_file",)),
        Hostile("line_packed", line_packed, ("too_large",)),
        Hostile("line", line, ("too_large",)),
        Hostile("line_within", line_within, ("all_null",)),
        Hostile("heading", heading, ("line_too_long",)),
        Hostile("rows", rows, landed=2),
        Hostile("ragged", ragged, ("not_csv",)),
        Hostile("columns", columns, landed=2, max_columns=5000),
        Hostile("parquet", parquet, ("too_large",)),
        Hostile("tiny_files", tiny_files, ("missing_column",)),
        Hostile("links", links, ("not_a_file",)),
    )
}


def main(arguments: list[str] | None = None) -> int:
    """Land what is asked for and print a row of a table each; gives the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help=f"of {', '.join(HOSTILE)} (default: all)")
    parser.add_argument("--share", type=float, default=1.0, help="of the full sizes")
    parser.add_argument("--land", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.land is not None:
        return land(HOSTILE[asked.names[0]], asked.land, asked.share)
    print(HEAD)
    return max(run(HOSTILE[name], asked.share) for name in asked.names or HOSTILE)


def run(hostile: Hostile, share: float) -> int:
    """Write one input and land it in another process; prints a row, gives 1 where it ended otherwise."""
    with tempfile.TemporaryDirectory() as folder:
        school = school_with(Path(folder), "S1")
        school.sessions(session_line("S1"), *(session_line(f"H{n}") for n in ("", 1, 2, 3)))
        hostile.write(school, share)
        command = [sys.executable, "-m", "tests.bench.hostile", hostile.name, "--land", folder]
        command += ["--share", str(share)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    what = str(hostile.write.__doc__).strip().rstrip(".")
    told = done.stdout.strip() if done.returncode == 0 else f"FAILED: {done.stderr[-2000:]}"
    print(f"| {hostile.name} | {what} | {told} |", flush=True)
    return int(done.returncode != 0)


def land(hostile: Hostile, root: Path, share: float) -> int:
    """Land the school in `root` in this process and print how that ended; gives the exit code.

    The limit of a log is the usual one, or as much less as the inputs are smaller.
    """
    limits = Landing(max_columns=hostile.max_columns, max_log_mb=256 * share)
    start, used = time.monotonic(), time.process_time()
    report = School(root).night(settings=Settings(landing=limits))
    took_s, used_s = time.monotonic() - start, time.process_time() - used
    found = rules_of(report)
    peak_mb = peak_memory_mb()
    ended = f"landed {len(report.landed)}"
    if found:
        ended += f", refused {len(found)} ({', '.join(sorted(set(found)))})"
    print(f"{ended} | {peak_mb:.0f} | {took_s:.1f} | {used_s:.1f}")
    for refusal in report.refusals:
        assert all(reason.sentence.isprintable() for reason in refusal.reasons)
        assert all(len(reason.sentence) < 400 for reason in refusal.reasons)
    if (set(found), len(report.landed)) == (set(hostile.ends), hostile.landed):
        return 0
    print(f"expected {hostile.landed} landed, refused for {hostile.ends}", file=sys.stderr)
    return 1


def peak_memory_mb() -> float:
    """The most memory that this process has held; what its parent held is not counted."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    (kilobytes,) = re.findall(r"^VmHWM:\s*(\d+) kB$", status, flags=re.MULTILINE)
    return int(kilobytes) * 1024 / 1e6


if __name__ == "__main__":
    sys.exit(main())
