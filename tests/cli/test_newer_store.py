"""A store that a newer version wrote to: refused in one sentence by all that reads or changes it."""

import shutil
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from pipeline.schema.tables import SCHEMA_VERSION
from pipeline.store import Warehouse, read_metadata, write_parquet
from tests.cli.conftest import Run
from tests.cli.test_status import contents


@pytest.mark.parametrize(
    "command",
    [
        ("nightly", "--inbox", "INBOX"),
        ("nightly", "--dry-run", "--inbox", "INBOX"),
        ("status",),
        ("query", "SELECT * FROM sessions"),
        ("check",),
        ("withdraw", "s1", "--note", "flown by another"),
    ],
)
def test_a_store_of_a_newer_form_is_refused_and_left_as_it_is(
    run: Run, school: Path, tmp_path: Path, command: tuple[str, ...]
) -> None:
    store = Warehouse(tmp_path / "warehouse")
    shutil.copytree(school / "warehouse", store.root)
    (file,) = store.table_files("sessions")
    newer = read_metadata(file) | {"schema_version": SCHEMA_VERSION + 1}
    write_parquet(pq.read_table(file), file, newer)
    before = contents(store.root)
    words = (school / "inbox" if word == "INBOX" else word for word in command)
    done = run(*words, "--warehouse", store.root)
    assert (done.code, done.out) == (7, "")
    assert f"sessions/{file.name}: written by a newer version of levelhold" in done.err
    assert "install the newer version again, or restore a backup" in done.err
    after = contents(store.root)
    told = {name for name in after if name.startswith("runs/")} | {".lock"}
    assert {name: d for name, d in after.items() if name not in told} == {
        name: d for name, d in before.items() if name not in told
    }


def test_every_parquet_file_of_a_store_names_its_form(school: Path) -> None:
    files = list((school / "warehouse").rglob("*.parquet"))
    assert {read_metadata(path)["schema_version"] for path in files} == {SCHEMA_VERSION}
    assert {path.relative_to(school / "warehouse").parts[0] for path in files} >= {
        *("samples", "sessions", "tasks", "roster", "measures")
    }
