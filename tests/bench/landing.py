"""What landing costs, as a multiple of parsing: invented logs, clean and dirty, from CSV to a batch.

Run: python tests/bench/landing.py [LOGS]; 20 logs of an hour at 10 Hz unless told. The floor is the same CSV
reader parsing the same files into the same columns and nothing else, in the same process; of a dirty log
it is told beforehand which column holds words. Landing is every check, the fingerprints, the encoding,
the writing and the commit. Times are processor time, so that a busy machine shows less; the two
alternate, and the lower of the rounds counts.
"""

import argparse
import datetime as dt
import io
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from time import process_time

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline.land import land_inbox
from pipeline.land.log_cells import known_types
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.bench.machine import machine
from tests.bench.measuring import RECORDED, flown

ROUNDS = 3
BAD_CELLS = 0.0005
DIRTY_COLUMN = "airspeed_kt"
NOW = dt.datetime(2026, 3, 2, 2, tzinfo=dt.UTC)
SESSIONS_HEADING = "session_id,student_id,started_at,device_id\n"
DECIMALS = {"altitude_ft": 1, "heading_deg": 2, "vertical_speed_fpm": 0, "airspeed_kt": 1}


def csv_log(rng: np.random.Generator, *, is_dirty: bool) -> bytes:
    """A log as a recorder writes it, with a few decimals; a dirty one has words in one column."""
    samples = flown(rng, "any")
    columns = {"time_s": pc.cast(samples["t_ms"], pa.float64())}
    columns["time_s"] = pc.divide(columns["time_s"], 1000.0)
    for name in RECORDED:
        numbers = pc.cast(samples[name], pa.float64())
        columns[name] = pc.round(numbers, ndigits=DECIMALS.get(name, 4))
    if is_dirty:
        is_bad = pa.array(rng.random(samples.num_rows) < BAD_CELLS)
        texts = pc.cast(columns[DIRTY_COLUMN], pa.string())
        columns[DIRTY_COLUMN] = pc.if_else(is_bad, pa.scalar("----"), texts)
    sink = io.BytesIO()
    pacsv.write_csv(pa.table(columns), sink, pacsv.WriteOptions(quoting_style="needed"))
    return sink.getvalue()


def write_inbox(root: Path, count: int, *, is_dirty: bool) -> list[Path]:
    """An inbox of one student with `count` logs on as many dates; gives the logs."""
    rng = np.random.default_rng(2)
    (root / "logs").mkdir(parents=True)
    (root / "roster.csv").write_text("student_id,cohort,start_date\nP01,a,2026-01-01\n")
    rows, logs = [SESSIONS_HEADING], []
    for number in range(count):
        session_id = f"S{number:04d}"
        rows.append(f"{session_id},P01,2026-03-01T{number % 24:02d}:00:00Z,D1\n")
        logs.append(root / "logs" / f"{session_id}.csv")
        logs[-1].write_bytes(csv_log(rng, is_dirty=is_dirty))
    (root / "sessions.csv").write_text("".join(rows))
    return logs


def parse_only(content: bytes, *, is_dirty: bool) -> int:
    """The reader alone, told the columns and their types; gives the rows it found."""
    names = content[: content.index(b"\n")].decode().replace('"', "").strip().split(",")
    types = {name: known_types()[name] for name in names}
    if is_dirty:
        types[DIRTY_COLUMN] = pa.string()
    table = pacsv.read_csv(
        pa.BufferReader(content),
        read_options=pacsv.ReadOptions(use_threads=False, block_size=len(content) + 1),
        convert_options=pacsv.ConvertOptions(
            column_types=types,
            include_columns=names,
            null_values=[""],
            strings_can_be_null=True,
        ),
    )
    return int(table.num_rows)


def parse_all(logs: list[Path], *, is_dirty: bool) -> tuple[float, int]:
    """Processor time and rows of parsing every log."""
    began = process_time()
    rows = sum(parse_only(log.read_bytes(), is_dirty=is_dirty) for log in logs)
    return process_time() - began, rows


def land_all(inbox: Path, warehouse: Warehouse) -> float:
    """Processor time of landing the inbox into a new store."""
    shutil.rmtree(warehouse.root, ignore_errors=True)
    began = process_time()
    report = land_inbox(inbox, warehouse, Settings(), NOW)
    took = process_time() - began
    if report.refusals or report.waiting:
        raise SystemExit(f"not all landed: {report.refusals or report.waiting}")
    return took


def stored_bytes(warehouse: Warehouse) -> tuple[int, int]:
    """Bytes and rows of the samples as stored."""
    files = warehouse.sample_files()
    rows = sum(pq.read_metadata(path).num_rows for path in files)
    return sum(path.stat().st_size for path in files), rows


@dataclass(frozen=True)
class Landing:
    """What a kind of logs took: seconds of the processor for a million rows, and bytes for a sample."""

    kind: str
    parsing_s: float
    landing_s: float
    bytes_per_sample: float

    @property
    def ratio(self) -> float:
        """Landing as a multiple of parsing."""
        return self.landing_s / self.parsing_s


def measured(count: int, folder: Path) -> Iterator[Landing]:
    """What clean logs took, then dirty ones."""
    for name, is_dirty in (("clean", False), ("dirty", True)):
        inbox, warehouse = folder / name, Warehouse(folder / f"{name}-store")
        logs = write_inbox(inbox, count, is_dirty=is_dirty)
        floors, costs, rows = [], [], 0
        for _ in range(ROUNDS):
            took, rows = parse_all(logs, is_dirty=is_dirty)
            floors.append(took)
            costs.append(land_all(inbox, warehouse))
        size, stored = stored_bytes(warehouse)
        million = rows / 1e6
        yield Landing(name, min(floors) / million, min(costs) / million, size / stored)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("logs", nargs="?", type=int, default=20)
    count = parser.parse_args().logs
    print(machine())
    print(
        "| logs | landing / parsing | parsing, ms per million rows | landing | bytes per sample |"
    )
    print("|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for found in measured(count, Path(folder)):
            print(
                f"| {found.kind}, {count} logs | {found.ratio:.2f} | {found.parsing_s * 1000:.0f} | "
                f"{found.landing_s * 1000:.0f} | {found.bytes_per_sample:.1f} |"
            )


if __name__ == "__main__":
    main()
