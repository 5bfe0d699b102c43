"""Every measure equals the reference on every maneuver of the shipped sample, assigned and inferred."""

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.schema.tables import TABLES
from pipeline.store import Warehouse
from tests.reference.compare import KEYS, differences, is_same

SAMPLE = Warehouse(Path(__file__).parents[2] / "sample_warehouse")


def stored(kind: str) -> pa.Table:
    """A stored table of the sample."""
    files = SAMPLE.sample_files() if kind == "samples" else SAMPLE.table_files(kind)
    schema = TABLES[kind]
    parts = [pq.read_table(path, schema=schema, partitioning=None) for path in files]
    return pa.concat_tables([schema.empty_table(), *parts])


@pytest.mark.slow
def test_sql_and_reference_agree_on_the_whole_sample() -> None:
    tables = {f"stored_{kind}": stored(kind) for kind in TABLES}
    assert tables["stored_sessions"].num_rows > 100
    seen: dict[str, int] = dict.fromkeys(KEYS, 0)
    wrong = []
    for difference in differences(tables):
        seen[difference.relation] += 1
        if not is_same(difference):
            wrong.append(difference)
    assert wrong == []
    assert min(seen.values()) > 100
