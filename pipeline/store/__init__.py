"""Where files live and how they become real: written aside, flushed to disk, renamed.

The floor's public names are re-exported here; each file behind them holds one idea.
"""

from pipeline.store.audit import audit_store
from pipeline.store.backup import back_up
from pipeline.store.change import Change
from pipeline.store.compact import CompactedBatch, compact
from pipeline.store.forgotten import Forgotten, read_forgotten
from pipeline.store.lock import hold_lock
from pipeline.store.readers import note_reader
from pipeline.store.seal import digest_of, seal
from pipeline.store.sweep import sweep
from pipeline.store.version import refuse_newer
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import (
    AsideParquet,
    read_columns,
    read_metadata,
    write_bytes,
    write_parquet,
)

__all__ = [
    "AsideParquet",
    "Change",
    "CompactedBatch",
    "Forgotten",
    "Warehouse",
    "audit_store",
    "back_up",
    "compact",
    "digest_of",
    "hold_lock",
    "note_reader",
    "read_columns",
    "read_forgotten",
    "read_metadata",
    "refuse_newer",
    "seal",
    "sweep",
    "write_bytes",
    "write_parquet",
]
