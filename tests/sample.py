"""The shipped sample school as the store's tables."""

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.schema.tables import TABLES
from pipeline.store import Warehouse

SAMPLE = Warehouse(Path(__file__).parents[1] / "sample_warehouse")


def sample_tables() -> dict[str, pa.Table]:
    """The stored tables (`stored_samples`, ...)."""
    return {f"stored_{kind}": _stored(kind) for kind in TABLES}


def _stored(kind: str) -> pa.Table:
    files = SAMPLE.sample_files() if kind == "samples" else SAMPLE.table_files(kind)
    schema = TABLES[kind]
    parts = [pq.read_table(path, schema=schema, partitioning=None) for path in files]
    return pa.concat_tables([schema.empty_table(), *parts])
