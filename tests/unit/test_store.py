"""The store's basics: whole files or none, committed batches only, one run at a time."""

import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.errors import LockHeld, StoreDamaged
from pipeline.schema.tables import SAMPLES
from pipeline.store import (
    AsideParquet,
    Warehouse,
    hold_lock,
    read_metadata,
    sweep,
    write_bytes,
    write_parquet,
)

NOW = datetime(2026, 3, 28, 2, tzinfo=UTC)
DAY = date(2026, 3, 14)


def _samples(session_id: str, count: int) -> pa.Table:
    empty = {f.name: pa.nulls(count, f.type) for f in SAMPLES}
    keys = {
        "session_id": pa.array([session_id] * count),
        "revision": pa.array([1] * count, pa.int32()),
        "t_ms": pa.array(range(0, count * 100, 100), pa.int32()),
        "altitude_ft": pa.array([4000.5] * count, pa.float32()),
    }
    return pa.table({**empty, **keys}, schema=SAMPLES)


def _touch(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"x")
    return path


def test_metadata_comes_back_with_the_schema_version(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b.parquet"
    write_parquet(pa.table({"x": [1]}), path, {"kind": "sessions"})
    assert read_metadata(path) == {"kind": "sessions", "schema_version": 1}
    assert [p.name for p in path.parent.iterdir()] == ["b.parquet"]


def test_a_foreign_file_is_named_as_damaged(tmp_path: Path) -> None:
    with pytest.raises(StoreDamaged, match=r"b\.parquet"):
        read_metadata(_touch(tmp_path / "b.parquet"))


def test_one_session_is_one_row_group_with_the_measured_encodings(tmp_path: Path) -> None:
    path = tmp_path / "s.parquet"
    with AsideParquet(path, SAMPLES) as file:
        file.write(_samples("TH-1", 200_000))
        file.write(_samples("TH-2", 10))
        file.commit({"kind": "samples"})
    found = pq.ParquetFile(path).metadata
    assert [found.row_group(i).num_rows for i in range(found.num_row_groups)] == [200_000, 10]
    columns = {
        found.row_group(0).column(i).path_in_schema: found.row_group(0).column(i) for i in range(17)
    }
    assert "BYTE_STREAM_SPLIT" in columns["altitude_ft"].encodings
    assert "DELTA_BINARY_PACKED" in columns["t_ms"].encodings
    assert "RLE_DICTIONARY" in columns["session_id"].encodings
    assert columns["altitude_ft"].compression == "ZSTD"


def test_without_a_commit_nothing_is_left(tmp_path: Path) -> None:
    with AsideParquet(tmp_path / "s.parquet", SAMPLES) as file:
        file.write(_samples("TH-1", 10))
    assert list(tmp_path.iterdir()) == []


def test_only_committed_batches_are_listed(tmp_path: Path) -> None:
    store = Warehouse(tmp_path)
    _touch(store.table_path("sessions", "b1"))
    mine = _touch(store.samples_path(DAY, "b1"))
    roster = _touch(store.table_path("roster", "b1"))
    _touch(store.samples_path(DAY, "b2"))
    _touch(store.table_path("roster", "b2"))
    assert store.committed_batches() == ("b1",)
    assert store.sample_files() == (mine,)
    assert store.table_files("roster") == (roster,)
    assert store.table_files("tasks") == ()


def test_sweep_removes_what_no_committed_batch_owns_and_nothing_else(tmp_path: Path) -> None:
    store = Warehouse(tmp_path)
    kept = {
        _touch(store.table_path("sessions", "b1")),
        _touch(store.seal_path("b1")),
        _touch(store.samples_path(DAY, "b1")),
        _touch(store.reviews / "r1.parquet"),
        _touch(store.quarantine / "2026-03-28" / "x.part"),
    }
    strays = {
        _touch(store.samples_path(DAY, "b2")),
        _touch(store.table_path("tasks", "b2")),
        _touch(store.sessions / ".b2.parquet.part"),
    }
    assert set(sweep(store)) == strays
    assert {p for p in tmp_path.rglob("*") if p.is_file()} == kept


def test_written_bytes_replace_the_old_file(tmp_path: Path) -> None:
    for content in (b"old", b"new"):
        write_bytes(content, tmp_path / "x" / "a.json")
    assert (tmp_path / "x" / "a.json").read_bytes() == b"new"


HOLD = """
import sys, time
from datetime import UTC, datetime
from pathlib import Path
from pipeline.store import Warehouse, hold_lock
with hold_lock(Warehouse(Path(sys.argv[1])), "nightly", datetime(2026, 3, 28, 2, tzinfo=UTC)):
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_second_run_is_told_who_holds_the_lock_and_a_dead_one_does_not_block(
    tmp_path: Path,
) -> None:
    store = Warehouse(tmp_path)
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(LockHeld) as caught, hold_lock(store, "ingest", NOW):
            pass
        other.kill()
        other.wait()
    assert f"`levelhold nightly` (process {other.pid} on " in str(caught.value)
    assert "since 2026-03-28T02:00:00+00:00" in str(caught.value)
    with hold_lock(store, "ingest", NOW):
        pass


def test_the_same_run_may_hold_the_lock_twice(tmp_path: Path) -> None:
    store = Warehouse(tmp_path)
    with hold_lock(store, "nightly", NOW), hold_lock(store, "ingest", NOW):
        assert (tmp_path / ".lock.json").exists()
    assert not (tmp_path / ".lock.json").exists()
