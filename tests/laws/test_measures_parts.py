"""Parts equal the whole, in any order, and however many processes share the work.

A samples file holds a session once. Figures are kept rounded, which hides the last bits in which the order
shows that an engine adds up floats in; rounded so, all is equal to the bit.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import given, settings

from pipeline.measure import NEUTRALS, Unit, measure_group, measure_warehouse
from pipeline.measure.group import KEPT_DECIMALS
from pipeline.reading import kept_relations
from pipeline.relations import relation_files
from pipeline.reports import Outcome
from pipeline.settings import Settings
from pipeline.store import Warehouse
from pipeline.store.write import AsideParquet, write_parquet
from tests.flights import Log, Task, connection_over, stored_tables
from tests.generated_flights import USUAL, School, Shape, own_limits, schools, signals

SETTINGS = Settings()
Kept = dict[str, list[tuple[Any, ...]]]


def kept(tables: dict[str, pa.Table], neutrals: pa.Table) -> Kept:
    """Every kept relation's rows, in the order of their keys, rounded as they are kept."""
    names = kept_relations()
    con = connection_over(tables, names, own_limits=own_limits(), bound_neutrals=neutrals)
    found: Kept = {}
    for name in names:
        grain = ", ".join(relation_files()[name].grain)
        rows = con.execute(f"FROM {name} ORDER BY {grain}").fetchall()
        found[name] = [tuple(_as_kept(value) for value in row) for row in rows]
    return found


def _as_kept(value: object) -> object:
    return round(value, KEPT_DECIMALS) if isinstance(value, float) else value


def each_session_once(school: School) -> School:
    """The newest revisions only."""
    newest = {log.session_id: log for log in sorted(school.logs, key=lambda g: g.revision)}
    return replace(school, logs=tuple(newest.values()))


def neutrals_of(school: School) -> pa.Table:
    con = connection_over(school.tables(), ["device_neutrals"], own_limits=own_limits())
    return con.sql(
        "SELECT device_id, session_date, pitch_neutral FROM device_neutrals"
    ).to_arrow_table()


def in_other_order(tables: dict[str, pa.Table], logs: Sequence[Log]) -> dict[str, pa.Table]:
    """The same rows, sessions last to first; the samples of each session stay in order of time."""
    turned = {
        n: t.take(pa.array(range(t.num_rows - 1, -1, -1), pa.int64())) for n, t in tables.items()
    }
    backwards = sorted(logs, key=lambda g: (g.session_id, g.revision), reverse=True)
    samples = [stored_tables([log])["stored_samples"] for log in backwards]
    return {**turned, "stored_samples": pa.concat_tables(samples)}


@given(schools(most=3).map(each_session_once))
@settings(USUAL, max_examples=4)
def test_sessions_measured_apart_or_in_another_order_give_the_same_figures(school: School) -> None:
    neutrals, tables = neutrals_of(school), school.tables()
    whole = kept(tables, neutrals)
    assert kept(in_other_order(tables, school.logs), neutrals) == whole
    parts: Kept = {name: [] for name in whole}
    for log in sorted(school.logs, key=lambda g: (g.session_id, g.revision)):
        own = stored_tables([log], school.devices, school.reviews)
        for name, rows in kept(own, neutrals).items():
            parts[name] += rows
    assert {n: sorted(rows, key=repr) for n, rows in parts.items()} == {
        n: sorted(rows, key=repr) for n, rows in whole.items()
    }


def a_warehouse(root: Path, logs: Sequence[Log]) -> Warehouse:
    """A store of these logs, each batch with its own files."""
    warehouse = Warehouse(root)
    for batch_id in sorted({log.batch_id for log in logs}):
        own = [log for log in logs if log.batch_id == batch_id]
        tables = stored_tables(own)
        for day in sorted({log.session_date for log in own}):
            of_the_day = [log for log in own if log.session_date == day]
            path = warehouse.samples_path(day, batch_id)
            path.parent.mkdir(parents=True, exist_ok=True)
            samples = stored_tables(of_the_day)["stored_samples"]
            with AsideParquet(path, samples.schema) as file:
                for log in sorted(of_the_day, key=lambda g: g.session_id):
                    file.write(stored_tables([log])["stored_samples"])
                file.commit({"kind": "samples", "batch_id": batch_id})
        for kind in ("roster", "tasks", "sessions"):
            table = tables[f"stored_{kind}"]
            write_parquet(table, warehouse.table_path(kind, batch_id), {"kind": kind})
    return warehouse


def flown(session_id: str, batch_no: int, day: int, seed: int) -> Log:
    """A minute and a half of flight, all channels, a sample every half second."""
    times = list(range(0, 90_000, 500))
    shape = Shape(4000.0, 359.0, 0.03, seed, 90.0, 60.0, 0.05, 0.0, 15.0)
    values = {n: [float(v) for v in cells] for n, cells in signals(shape, times).items()}
    return Log(
        times,
        values,
        [Task(0, 40), Task(40, 90, "level_off")],
        session_id=session_id,
        student_id=f"TH0{seed}",
        session_date=date(2026, 3, day),
        batch_id=f"b202603{day + 1}T020000Z-00000{batch_no}",
    )


def measures_of(root: Path, logs: Sequence[Log], workers: int) -> dict[str, bytes]:
    """Every file that measuring a store of these logs writes, by its place."""
    warehouse = a_warehouse(root, logs)
    report = measure_warehouse(warehouse, SETTINGS, workers=workers)
    assert {unit.outcome for unit in report.units} == {Outcome.DONE}
    files = sorted(warehouse.measures.rglob("*.parquet"))
    return {str(path.relative_to(root)): path.read_bytes() for path in files}


def test_serial_and_two_processes_write_the_same_bytes(tmp_path: Path) -> None:
    logs = [flown("A", 1, 14, 1), flown("B", 1, 14, 2), flown("C", 2, 14, 3), flown("D", 3, 16, 4)]
    serial = measures_of(tmp_path / "serial", logs, workers=1)
    shared = measures_of(tmp_path / "shared", logs, workers=2)
    assert len(serial) >= 3 * len(kept_relations()) / 2
    assert shared == serial


def in_order(unit: Unit, name: str) -> pa.Table:
    """What measuring a unit wrote of one relation, in the order of its grain."""
    grain = [(column, "ascending") for column in relation_files()[name].grain]
    return pq.read_table(unit.output(name)).sort_by(grain)


def test_a_large_file_measured_in_goes_of_sessions_has_the_same_figures(tmp_path: Path) -> None:
    logs = [flown(name, 1, 14, place + 1) for place, name in enumerate(["A", "A-1", "A'2", "B"])]
    warehouse = a_warehouse(tmp_path, logs)
    row = {"device_id": "SIM-1", "session_date": date(2026, 3, 14), "pitch_neutral": 0.1}
    neutrals = pa.Table.from_pylist([row], schema=NEUTRALS)
    [file] = warehouse.sample_files()
    found = []
    for digest, rows_at_once in (("whole", 1_000), ("pairs", 360), ("alone", 1)):
        unit = Unit(tmp_path, file, digest, SETTINGS, tuple(kept_relations()), neutrals)
        measure_group((unit,), rows_at_once)
        found.append([in_order(unit, name) for name in unit.relations])
    whole, pairs, alone = found
    assert sum(table.num_rows for table in whole) > 100
    assert pairs == whole
    assert alone == whole
