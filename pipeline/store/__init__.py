"""Where files live and how they become real: written aside, flushed to disk, renamed.

The floor's public names are re-exported here; each file behind them holds one idea.
"""

from pipeline.store.audit import audit_store
from pipeline.store.lock import hold_lock
from pipeline.store.seal import digest_of, seal
from pipeline.store.sweep import sweep
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import AsideParquet, read_metadata, write_bytes, write_parquet

__all__ = [
    "AsideParquet",
    "Warehouse",
    "audit_store",
    "digest_of",
    "hold_lock",
    "read_metadata",
    "seal",
    "sweep",
    "write_bytes",
    "write_parquet",
]
