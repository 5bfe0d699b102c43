"""A store as it was when a release was made from it."""

from pathlib import Path

import pyarrow as pa
import pytest

from pipeline.errors import UsageError
from pipeline.export.past import store_as_of
from pipeline.store import Warehouse, write_parquet


def commit(warehouse: Warehouse, batch_id: str, *replaces: str) -> None:
    metadata = {"kind": "sessions", **({"replaces": list(replaces)} if replaces else {})}
    path = warehouse.table_path("sessions", batch_id)
    write_parquet(pa.table({"session_id": ["s1"]}), path, metadata)


def test_what_landed_later_is_not_seen(tmp_path: Path) -> None:
    warehouse = Warehouse(tmp_path)
    for batch_id in ("b1", "b2", "b3"):
        commit(warehouse, batch_id)
    for name in ("n1", "n2"):
        write_parquet(pa.table({"x": [1]}), warehouse.reviews / f"{name}.parquet", {})
    past = store_as_of(warehouse, ["b1", "b2"], ["n1.parquet"])
    assert past.committed_batches() == ("b1", "b2")
    assert [p.name for p in past.table_files("reviews")] == ["n1.parquet"]
    assert [p.stem for p in past.table_files("sessions")] == ["b1", "b2"]


def test_a_batch_that_merged_some_stands_for_them(tmp_path: Path) -> None:
    warehouse = Warehouse(tmp_path)
    commit(warehouse, "b2m", "b1", "b2")
    commit(warehouse, "b3")
    assert store_as_of(warehouse, ["b1", "b2"], []).committed_batches() == ("b2m",)


@pytest.mark.parametrize("replaces", [(), ("b1", "b2", "b3")], ids=["gone", "merged with later"])
def test_what_cannot_be_told_apart_is_said(tmp_path: Path, replaces: tuple[str, ...]) -> None:
    warehouse = Warehouse(tmp_path)
    commit(warehouse, "b3m", *replaces)
    with pytest.raises(UsageError, match="cannot be made again from here"):
        store_as_of(warehouse, ["b1", "b2"], [])
