"""stored_samples, stored_sessions and the others: what any DuckDB shell reads from a warehouse's folder."""

from pathlib import Path

import duckdb
import pyarrow.parquet as pq
import pytest

from pipeline.relations import relation_files
from pipeline.schema.tables import TABLES
from tests.flights import Log, Task, stored_tables

FILES = {
    "samples": "samples/session_date=2026-03-14/b1.parquet",
    **{kind: f"{kind}/b1.parquet" for kind in TABLES if kind != "samples"},
}
LOG = Log(
    [0, 1000, 2000],
    {"altitude_ft": [4000.0, 4001.5, None], "heading_deg": [90.0, 91.0, 92.0]},
    [Task(0, 2)],
)


@pytest.fixture
def in_warehouse(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    note = {"kind": "withdraw", "session_id": "S9"}
    tables = stored_tables([LOG], [{"device_id": "SIM-1"}], [note])
    for kind, place in FILES.items():
        path = tmp_path / place
        path.parent.mkdir(parents=True, exist_ok=True)
        pq.write_table(tables[f"stored_{kind}"], path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("in_warehouse")
@pytest.mark.parametrize("kind", sorted(TABLES))
def test_the_relation_gives_back_the_rows_of_its_folder(kind: str) -> None:
    con = duckdb.connect()
    con.execute(relation_files()[f"stored_{kind}"].text)
    found = con.sql(f"FROM stored_{kind}").to_arrow_table().to_pylist()
    written = pq.read_table(FILES[kind], partitioning=None).to_pylist()
    assert len(found) == (3 if kind == "samples" else 1)
    assert found == [{name: row[name] for name in found[0]} for row in written]


@pytest.mark.usefixtures("in_warehouse")
def test_from_the_folder_every_measure_can_be_built_with_nothing_bound() -> None:
    con = duckdb.connect()
    con.execute("SET TimeZone = 'UTC'")
    for relation in relation_files().values():
        if relation.floor <= 5:
            con.execute(relation.text)
    assert con.sql("SELECT altitude_sd_ft > 0 FROM altitude_hold").fetchall() == [(True,)]
