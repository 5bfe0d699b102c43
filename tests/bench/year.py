"""What remeasuring years costs: days of 100 session-hours at 10 Hz, measured anew, and what follows for more.

Run: python -m tests.bench.year [DAYS] [--workers N]; 10 days and 2 workers unless told. Every day is a batch
and a samples file of its own, flown as in tests/bench/measuring.py. Measuring a file depends on that file
alone, so that the time of more days is this time times their number: the last line tells it for 30,000
session-hours. Processor time is of this process and its workers; the clock's depends on what else runs.
"""

import argparse
import datetime as dt
import os
import resource
import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np

from pipeline.measure import measure_warehouse
from pipeline.reports import Outcome
from pipeline.schema.tables import SAMPLES
from pipeline.settings import Settings
from pipeline.store import AsideParquet, Warehouse
from tests.bench.machine import machine
from tests.bench.measuring import DAY, flown, session_row, task_rows, write_lists

A_DAY = 100
MODELLED = 30_000


def fly_day(warehouse: Warehouse, number: int) -> int:
    """Put a day of session-hours into the store as a batch of its own; gives its samples."""
    day, rng = DAY + dt.timedelta(days=number), np.random.default_rng(number)
    batch_id = f"b{day:%Y%m%d}T230000Z-aaaaaa"
    started_at = dt.datetime(day.year, day.month, day.day, 9, tzinfo=dt.UTC)
    dated = {"batch_id": batch_id, "session_date": day, "started_at": started_at}
    sessions: list[dict[str, object]] = []
    tasks: list[dict[str, object]] = []
    rows = 0
    with AsideParquet(warehouse.samples_path(day, batch_id), SAMPLES) as file:
        for n in range(A_DAY):
            session_id = f"D{number:03d}-{n:03d}"
            samples = flown(rng, session_id)
            file.write(samples)
            rows += samples.num_rows
            sessions.append(session_row(session_id, samples) | dated | {"student_id": f"P{n:03d}"})
            tasks += task_rows(session_id)
        file.commit({"kind": "samples"})
    write_lists(warehouse, batch_id, sessions, tasks, with_device=number == 0)
    return rows


def main() -> None:
    """Fly the days, measure them, print one line and the model."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("days", type=int, nargs="?", default=10)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        warehouse = Warehouse(Path(folder))
        rows = sum(fly_day(warehouse, number) for number in range(asked.days))
        began, before = perf_counter(), os.times()
        report = measure_warehouse(warehouse, Settings(), workers=asked.workers)
        clock_s, after = perf_counter() - began, os.times()
    used_s = sum(after[:4]) - sum(before[:4])
    own, workers = (
        resource.getrusage(who).ru_maxrss / 1024
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    hours = asked.days * A_DAY
    print(f"{machine()}; {asked.workers} workers; {report.count(Outcome.DONE)} units measured")
    print(
        f"{hours} session-hours, {rows / 1e6:.1f} million samples: {used_s:.0f} s of the processor "
        f"({1e6 * used_s / rows:.2f} s a million), {clock_s:.0f} s by the clock; "
        f"peak memory {own:.0f} MB here (flying included), {workers:.0f} MB in a worker"
    )
    times = MODELLED / hours
    print(
        f"modelled: {MODELLED} session-hours, {times * rows / 1e6:.0f} million samples: "
        f"{times * used_s / 60:.0f} minutes of the processor"
    )


if __name__ == "__main__":
    main()
