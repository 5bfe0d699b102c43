"""What measuring costs, as a multiple of reading: one invented file of samples, every relation timed.

Run: python tests/bench/measuring.py [SESSIONS] [--with-search]; 30 sessions of an hour at 10 Hz unless told.
The floor is DuckDB adding up the same columns of the same file in the same process, on one thread, read
before and after the relations (the lower counts). All times are processor time, so that a busy machine
shows less. The size of a sample is told of sessions with every channel recorded, which the other flights
have not. Tasks cover three fifths of every session; without --with-search no maneuver is searched for in the
rest, as in a school that assigns what it wants scored.
"""

import argparse
import datetime as dt
import pickle
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from time import process_time

import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pipeline import relations
from pipeline.measure import NEUTRALS, Unit, measure_group
from pipeline.reading import bind_settings, kept_relations, kept_schema, school_settings
from pipeline.schema.tables import DEVICES, SAMPLES, SESSIONS, TASKS
from pipeline.store import AsideParquet, Warehouse, write_parquet
from tests.bench.machine import machine

BATCH = "b20260301T000000Z-aaaaaa"
DAY = dt.date(2026, 3, 1)
RECORDED = [
    "altitude_ft",
    "heading_deg",
    "vertical_speed_fpm",
    "airspeed_kt",
    "pitch_deg",
    "bank_deg",
    "pitch_control",
    "roll_control",
    "pitch_trim",
    "power",
]
KINDS = ("level", "level", "level_off", "level", "power_change", "level", "turn", "level")
FLOOR = (
    "SELECT COUNT(session_id), SUM(t_ms), "
    + ", ".join(f"SUM({name})" for name in RECORDED)
    + " FROM stored_samples"
)
ROOT = Path(__file__).resolve().parents[2]
WORKER = """
import pathlib, pickle, re, sys
from pipeline.measure import measure_group

measure_group(pickle.load(sys.stdin.buffer))
status = pathlib.Path("/proc/self/status").read_text()
print(int(re.search(r"VmHWM:\\s+(\\d+) kB", status)[1]) / 1024)
"""
"""Measures, and tells its peak of memory; getrusage would count what the process it came from had."""
Floats = npt.NDArray[np.float64]


def wander(rng: np.random.Generator, count: int, memory: int, spread: float) -> Floats:
    """Noise that remembers `memory` samples, with the standard deviation `spread`."""
    steps = rng.normal(0, 1, count + memory)
    sums = np.cumsum(steps)
    return (sums[memory:] - sums[:-memory]) * spread / np.sqrt(memory)


def flown(rng: np.random.Generator, session_id: str) -> pa.Table:
    """An hour at about 10 Hz with lost samples and three gaps; heavy work, for it crosses bands often."""
    t_ms = np.cumsum(rng.integers(96, 105, 35_835)).astype(np.int32)
    is_kept = rng.random(len(t_ms)) > 0.002
    for start in rng.integers(0, len(t_ms) - 100, 3):
        is_kept[start : start + rng.integers(5, 60)] = False
    t_ms = t_ms[is_kept]
    n, t_s, phase = len(t_ms), t_ms / 1000, rng.random() * 6
    channels: dict[str, Floats] = {
        "altitude_ft": 4000 + 60 * np.sin(t_s / 8 + phase) + wander(rng, n, 150, 40),
        "heading_deg": (90 + 4 * np.sin(t_s / 15) + wander(rng, n, 120, 4)) % 360,
        "vertical_speed_fpm": 400 * np.cos(t_s / 8 + phase) + wander(rng, n, 30, 60),
        "airspeed_kt": 100 + wander(rng, n, 75, 2),
        "pitch_deg": wander(rng, n, 45, 1),
        "bank_deg": wander(rng, n, 45, 2),
        "pitch_control": 0.03 * np.sin(t_s / 3) + wander(rng, n, 15, 0.02),
        "roll_control": wander(rng, n, 15, 0.02),
        "pitch_trim": np.round(wander(rng, n, 900, 0.03), 2),
        "power": np.full(n, 0.65),
    }
    known: dict[str, pa.Array] = {
        "session_id": pa.array([session_id] * n),
        "revision": pa.array(np.ones(n, np.int32)),
        "t_ms": pa.array(t_ms),
        **{name: pa.array(values.astype(np.float32)) for name, values in channels.items()},
    }
    columns = [known.get(f.name, pa.nulls(n, f.type)) for f in SAMPLES]
    return pa.table([c.cast(f.type) for c, f in zip(columns, SAMPLES, strict=True)], schema=SAMPLES)


def fully_recorded(rng: np.random.Generator, samples: pa.Table) -> pa.Table:
    """The same samples with the channels that `flown` leaves out."""
    n = samples.num_rows
    added: dict[str, pa.Array] = {
        "pitch_force": pa.array(wander(rng, n, 15, 5).astype(np.float32)),
        "roll_trim": pa.array(np.round(wander(rng, n, 900, 0.03), 2).astype(np.float32)),
        "on_ground": pa.array(np.arange(n) < 500),
        "autopilot": pa.array(np.zeros(n, np.bool_)),
    }
    columns = [added.get(f.name, samples[f.name]) for f in SAMPLES]
    return pa.table(columns, schema=SAMPLES)


def bytes_of_a_full_sample(root: Path, count: int = 3) -> tuple[int, float]:
    """How many columns a sample has beside its session, and its size where all of them are filled."""
    rng, rows = np.random.default_rng(2), 0
    path = Warehouse(root).samples_path(DAY, BATCH)
    with AsideParquet(path, SAMPLES) as file:
        for number in range(count):
            samples = fully_recorded(rng, flown(rng, f"S{number:04d}"))
            file.write(samples)
            rows += samples.num_rows
        file.commit({"kind": "samples"})
    columns = len(SAMPLES.names) - len(("session_id", "revision"))
    return columns, path.stat().st_size / rows


def seconds_of_help() -> float:
    """The processor time that the command takes to say its help."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", "pipeline", "--help"]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def session_row(session_id: str, samples: pa.Table) -> dict[str, object]:
    """The row that landing would have committed for these samples."""
    row: dict[str, object] = {f.name: None if f.nullable else "none" for f in SESSIONS}
    return row | {
        "session_id": session_id,
        "revision": 1,
        "batch_id": BATCH,
        "student_id": "P01",
        "session_date": DAY,
        "started_at": dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC),
        "device_id": "D1",
        "duration_s": samples["t_ms"][-1].as_py() / 1000,
        "sample_count": samples.num_rows,
        "median_step_s": 0.1,
        "gap_limit_s": 1.5,
        "observed_s": 3500.0,
        "channels": RECORDED,
        "sparse_channels": [],
        "gates": [],
    }


def task_rows(session_id: str) -> Iterator[dict[str, object]]:
    """Eight tasks of 268 s, one every 440 s."""
    for number, kind in enumerate(KINDS):
        yield {
            "session_id": session_id,
            "revision": 1,
            "task_no": number + 1,
            "start_s": 50.0 + number * 440,
            "end_s": 318.0 + number * 440,
            "kind": kind,
            "target_altitude_ft": 4000.0,
            "target_heading_deg": 90.0,
            "flown_by": "student",
        }


def fly_school(root: Path, count: int) -> Warehouse:
    """A warehouse of one day with `count` sessions in one samples file."""
    warehouse, rng = Warehouse(root), np.random.default_rng(1)
    sessions: list[dict[str, object]] = []
    tasks: list[dict[str, object]] = []
    with AsideParquet(warehouse.samples_path(DAY, BATCH), SAMPLES) as file:
        for number in range(count):
            session_id = f"S{number:04d}"
            samples = flown(rng, session_id)
            file.write(samples)
            sessions.append(session_row(session_id, samples))
            tasks += task_rows(session_id)
        file.commit({"kind": "samples"})
    write_lists(warehouse, BATCH, sessions, tasks, with_device=True)
    return warehouse


def write_lists(
    warehouse: Warehouse,
    batch_id: str,
    sessions: list[dict[str, object]],
    tasks: list[dict[str, object]],
    *,
    with_device: bool,
) -> None:
    """Commit a batch whose samples are written: its tasks, its sessions and, if asked, the one device."""
    device = {
        "device_id": "D1",
        "device_class": "simulator",
        "control": "centring",
        "row_sha256": "none",
        "batch_id": batch_id,
    }
    for kind, rows, schema in (
        ("devices", [device] if with_device else [], DEVICES),
        ("tasks", tasks, TASKS),
        ("sessions", sessions, SESSIONS),
    ):
        if rows:
            table = pa.Table.from_pylist(rows, schema=schema)
            write_parquet(table, warehouse.table_path(kind, batch_id), {"kind": kind})


def bind(con: duckdb.DuckDBPyConnection, warehouse: Warehouse, *, is_searched: bool) -> set[str]:
    """Bind the store to a connection, and one neutral; gives the names bound."""
    relations.bind_files(con, "stored_samples", warehouse.sample_files(), SAMPLES)
    for kind, schema in (("sessions", SESSIONS), ("tasks", TASKS), ("devices", DEVICES)):
        relations.bind_files(con, f"stored_{kind}", warehouse.table_files(kind), schema)
    relations.bind_table(con, "bound_neutrals", neutrals())
    bound = {
        "stored_samples",
        "stored_sessions",
        "stored_tasks",
        "stored_devices",
        "bound_neutrals",
    }
    if not is_searched:
        empty = kept_schema("inferred_maneuvers").empty_table()
        relations.bind_table(con, "inferred_maneuvers", empty)
        bound.add("inferred_maneuvers")
    return bound | bind_settings(con, school_settings(warehouse))


def neutrals() -> pa.Table:
    """The pitch neutral of the one device on the one day."""
    row = {"device_id": "D1", "session_date": DAY, "pitch_neutral": 0.0}
    return pa.Table.from_pylist([row], schema=NEUTRALS)


def seconds_of(con: duckdb.DuckDBPyConnection, query: str) -> float:
    """The processor time that a query takes, its answer fetched."""
    began = process_time()
    con.execute(query).fetchall()
    return process_time() - began


def time_relations(warehouse: Warehouse, *, is_searched: bool) -> tuple[float, dict[str, float]]:
    """The floor, and what each relation that measuring builds takes, in seconds."""
    con = relations.connect(warehouse.root)
    bound = bind(con, warehouse, is_searched=is_searched)
    floors = [seconds_of(con, FLOOR) for _ in range(3)]
    took = {r.name: seconds_of(con, r.text) for r in relations.needed_for(kept_relations(), bound)}
    floors += [seconds_of(con, FLOOR) for _ in range(3)]
    return min(floors), took


def unit_of(warehouse: Warehouse, digest: str = "bench") -> Unit:
    """The school's one file as a night measures it; `digest` names the folder of what is written."""
    return Unit(
        warehouse.root,
        warehouse.sample_files()[0],
        digest,
        school_settings(warehouse),
        tuple(kept_relations()),
        neutrals(),
    )


def time_unit(warehouse: Warehouse) -> float:
    """What measuring the file takes as the nightly run does it: bound, guarded, built and written."""
    unit = unit_of(warehouse)
    began = process_time()
    measure_group((unit,))
    return process_time() - began


def megabytes_of_worker(warehouse: Warehouse) -> float:
    """The peak memory of a process of its own that measures the file and has loaded nothing else."""
    command = [sys.executable, "-c", WORKER]
    group = pickle.dumps((unit_of(warehouse),))
    done = subprocess.run(command, input=group, check=True, stdout=subprocess.PIPE, cwd=ROOT)
    return float(done.stdout)


def print_table(warehouse: Warehouse, *, is_searched: bool) -> None:
    """Measure and print."""
    million = pq.read_metadata(warehouse.sample_files()[0]).num_rows / 1e6
    print(f"{machine()}; {million:.2f} million samples")
    unit_s = time_unit(warehouse)
    floor, took = time_relations(warehouse, is_searched=is_searched)
    print(f"peak memory of a worker: {megabytes_of_worker(warehouse):.0f} MB")
    print(f"floor: {1000 * floor / million:.0f} ms per million samples")
    for name, seconds in sorted(took.items(), key=lambda item: -item[1]):
        if seconds > floor / 20:
            print(f"  {name:<22} {1000 * seconds / million:8.0f} ms {seconds / floor:7.1f} x")
    total = sum(took.values())
    print(f"all relations: {1000 * total / million:.0f} ms, {total / floor:.1f} x the floor")
    print(f"the file measured and written, with what is searched: {unit_s / floor:.1f} x the floor")


def print_sizes(root: Path) -> None:
    """Print what a sample takes in the store, and what the help takes."""
    columns, size = bytes_of_a_full_sample(root)
    print(f"bytes per sample, all {columns} columns recorded: {size:.1f}")
    print(f"levelhold --help: {min(seconds_of_help() for _ in range(3)):.2f} s of processor time")


def main() -> None:
    """Fly a school aside, measure it, print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sessions", type=int, nargs="?", default=30)
    parser.add_argument("--with-search", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        warehouse = fly_school(Path(folder), asked.sessions)
        print_table(warehouse, is_searched=asked.with_search)
        print_sizes(Path(folder) / "full")


if __name__ == "__main__":
    main()
