"""Small schools with a few nights behind them: landed, measured, corrected."""

from datetime import timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.measure import measure_warehouse
from pipeline.reading import definitions, kept_files, kept_relations, open_warehouse
from pipeline.relations import relation_files
from pipeline.schema.tables import TABLES
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.inboxes import NOW, ROSTER, School, log_text, session_line

SETTINGS = Settings()
TASKS = (
    "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n"
    "0,45,level,4000,90\n45,90,level,4003,91\n"
)
SESSIONS = (("A1", "TH01"), ("B1", "TH02"), ("C1", "TH01"), ("D1", "TH02"))


def busy_school(root: Path, nights: int = 4) -> School:
    """Two students; each night lands one session of 90 s with two level tasks, two dates in turn."""
    school = School(root)
    school.put("roster.csv", ROSTER)
    for night, (session_id, _) in enumerate(SESSIONS[:nights]):
        lines = [
            session_line(s, student, f"2026-03-1{4 + i % 2}T0{5 + i}:00:00+00:00")
            for i, (s, student) in enumerate(SESSIONS[: night + 1])
        ]
        school.sessions(*lines)
        wander = [4000 + (i + 3 * night) % (9 + night) for i in range(360)]
        control = [0.01 * (i % (3 + night)) for i in range(360)]
        school.put(
            f"logs/{session_id}.csv",
            log_text(
                360,
                altitude_ft=wander,
                pitch_control=control,
                pitch_trim=[0.1 + 0.01 * (i // 90) for i in range(360)],
                airspeed_kt=[90 + i % 3 for i in range(360)],
            ),
        )
        school.put(f"tasks/{session_id}.csv", TASKS)
        school.night(NOW + timedelta(days=night))
    return school


def measured(school: School) -> School:
    """The school, all of it measured."""
    measure_warehouse(school.store, SETTINGS)
    return school


Rows = dict[str, list[tuple[object, ...]]]


def kept_rows(store: Warehouse) -> Rows:
    """All that is stored and kept of a store, sorted: every other relation is made of that alone."""
    digest = definitions(SETTINGS).digest
    tables = {
        kind: store.sample_files() if kind == "samples" else store.table_files(kind)
        for kind in TABLES
    }
    tables |= {name: kept_files(store, digest, name) for name in kept_relations()}
    return {
        name: sorted((r for p in paths for r in _rows(_read(p))), key=repr)
        for name, paths in tables.items()
    }


def _read(path: Path) -> pa.Table:
    return pq.read_table(path, partitioning=None)


def all_relations(store: Warehouse) -> Rows:
    """The rows of every relation of a store, sorted: what any reader can learn from it."""
    names = [name for name in relation_files() if name not in WITH_CHOICES]
    con = open_warehouse(store, SETTINGS, names)
    return {name: _rows(con.sql(f"FROM {name}").to_arrow_table()) for name in names}


WITH_CHOICES = frozenset({"export_choice", "pseudonyms"})
"""Relations that an export binds; what rests on them is compared where exports are tested."""


def _rows(table: pa.Table) -> list[tuple[object, ...]]:
    rows = (tuple(row.values()) for row in table.to_pylist())
    return sorted(rows, key=repr)
