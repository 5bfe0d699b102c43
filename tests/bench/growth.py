"""What a night costs as the store grows: 100 new sessions after 100, 1,000, ... have landed.

Run: python tests/bench/growth.py [--most SESSIONS] [--workers N] [--keep FOLDER]; 3,000 unless told. An
invented school of 300 students flies 100 sessions a day, each 240 s at 2 Hz with three level tasks and a
level-off. At each size a copy of the store, with the pages of the night before, runs the next night as a
process of its own; its run report tells the seconds of each stage, of the processor and of the clock, and
the peak of memory. Ratios are of the processor's time, which other work on the machine changes by less;
compare the rows of one run. Grown stores stay in the folder that --keep names and are taken from there
the next time.
"""

import argparse
import datetime as dt
import io
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline.land import land_inbox
from pipeline.measure import measure_warehouse
from pipeline.pages import write_pages
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.bench.machine import machine

ROOT = Path(__file__).resolve().parents[2]
A_DAY = 100
STUDENTS = 300
FIRST_DAY = dt.date(2025, 1, 6)
SIZES = (0, 100, 1_000, 3_000, 10_000, 30_000)
TASKS = (
    "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n"
    "0,65,level,3000,90\n65,130,level,3000,90\n130,195,level,3000,90\n195,239,level_off,3000,90\n"
)
STAGES = ("land_s", "measure_s", "tell_s", "pages_s", "close_s")


def csv_log(rng: np.random.Generator, clumsiness: float) -> bytes:
    """A log of seven channels whose errors wander."""
    t = np.arange(480) / 2
    turn = 2 * np.pi * t / rng.uniform(25, 45) + rng.uniform(0, 6)
    wander = 90 * clumsiness * rng.uniform(0.7, 1.3)
    columns = {
        "time_s": t,
        "altitude_ft": np.round(3000 + wander * np.sin(turn) + rng.normal(0, 4, len(t)), 1),
        "heading_deg": np.round(90 + 5 * clumsiness * np.sin(turn / 2), 2),
        "vertical_speed_fpm": np.round(4 * wander * np.cos(turn)),
        "airspeed_kt": np.round(100 + rng.normal(0, 1, len(t)), 1),
        "pitch_control": np.round(0.05 * clumsiness + rng.normal(0, 0.01, len(t)), 3),
        "pitch_trim": np.full(len(t), 0.1),
    }
    sink = io.BytesIO()
    pacsv.write_csv(pa.table(columns), sink, pacsv.WriteOptions(quoting_style="none"))
    return sink.getvalue()


def write_day(inbox: Path, number: int) -> Path:
    """The inbox of one day, with that day's sessions only."""
    shutil.rmtree(inbox, ignore_errors=True)
    (inbox / "logs").mkdir(parents=True)
    (inbox / "tasks").mkdir()
    rng = np.random.default_rng(number)
    day = FIRST_DAY + dt.timedelta(days=number)
    students = [f"P{(number * A_DAY + n) % STUDENTS:03d}" for n in range(A_DAY)]
    sessions = ["session_id,student_id,started_at,device_id\n"]
    for n, student in enumerate(students):
        session_id = f"D{number:04d}-{n:03d}"
        at = dt.datetime(day.year, day.month, day.day, 6, tzinfo=dt.UTC) + dt.timedelta(
            minutes=5 * n
        )
        sessions.append(f"{session_id},{student},{at.isoformat()},SIM-{n % 6}\n")
        clumsiness = 0.4 + 2.0 * (int(student[1:]) % 17) / 17
        (inbox / "logs" / f"{session_id}.csv").write_bytes(csv_log(rng, clumsiness))
        (inbox / "tasks" / f"{session_id}.csv").write_text(TASKS)
    (inbox / "sessions.csv").write_text("".join(sessions))
    lines = [f"P{n:03d},cohort-{n % 10},{FIRST_DAY},first-lessons\n" for n in range(STUDENTS)]
    (inbox / "roster.csv").write_text("student_id,cohort,start_date,stage\n" + "".join(lines))
    return inbox


def night_after(store: Path, folder: Path, number: int, workers: int) -> dict[str, Any]:
    """The run report of day `number`'s night, run on a copy of the store."""
    copy = folder / "copy"
    if store.exists():
        copied(store, copy)
    inbox = write_day(folder / "night", number)
    command = [sys.executable, "-m", "pipeline", "nightly", "--quiet", "--workers", str(workers)]
    subprocess.run(
        [*command, "--inbox", inbox, "--warehouse", copy],
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=ROOT,
    )
    [report] = Warehouse(copy).runs.glob("r*.json")
    found: dict[str, Any] = json.loads(report.read_text())
    shutil.rmtree(copy)
    return found


def copied(store: Path, to: Path) -> Path:
    """A copy of a store that shares its files: what a store holds is never written again, save its locks."""
    locks = shutil.ignore_patterns(".lock", ".readers")
    shutil.copytree(store, to, ignore=locks, copy_function=_link)
    return to


def _link(source: str, target: str) -> None:
    Path(target).hardlink_to(source)


def grown(most: int, folder: Path, workers: int) -> Iterator[tuple[int, dict[str, Any]]]:
    """The store's size and the report of the night after it, at each size up to `most`."""
    before = folder / "at0"
    for size in (s for s in SIZES if s <= most):
        store = folder / f"at{size}"
        if size and not store.exists():
            part = folder / "part"
            shutil.rmtree(part, ignore_errors=True)
            warehouse = Warehouse(copied(before, part) if before.exists() else part)
            for number in range(len(warehouse.committed_batches()), size // A_DAY):
                now = dt.datetime(2025, 1, 7, 2, tzinfo=dt.UTC) + dt.timedelta(days=number)
                land_inbox(write_day(folder / "day", number), warehouse, Settings(), now)
            part.rename(store)
        if size:
            measure_warehouse(Warehouse(store), Settings(), workers=workers)
            night_before = dt.datetime(2025, 1, 6, 2, tzinfo=dt.UTC) + dt.timedelta(
                days=size // A_DAY
            )
            write_pages(Warehouse(store), Settings(), night_before)
        yield size, night_after(store, folder, size // A_DAY, workers)
        before = store


def main() -> None:
    """Print a row per size as soon as it is known."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=3_000)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    print(machine())
    print(
        "| sessions before | land | measure | tell | pages | close | night, processor s | the clock's s |"
        " night to the first | land and measure to the first | peak MB, run and worker |"
    )
    print("|---" * 11 + "|", flush=True)
    first: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as own:
        folder = asked.keep or Path(own)
        folder.mkdir(exist_ok=True)
        for size, report in grown(asked.most, folder, asked.workers):
            used = [float(report["processor"][stage]) for stage in STAGES]
            first = first or {"night": sum(used), "work": used[0] + used[1]}
            cells = " | ".join(f"{seconds:.2f}" for seconds in used)
            clock = sum(float(report["took"][stage]) for stage in STAGES)
            ratio, work = sum(used) / first["night"], (used[0] + used[1]) / first["work"]
            peaks = ", ".join(
                f"{value / 1e6:.0f}" for value in report["peak_memory"].values() if value
            )
            print(
                f"| {size} | {cells} | {sum(used):.2f} | {clock:.1f} | {ratio:.2f} x | {work:.2f} x |"
                f" {peaks} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
