"""Merging runs of small batches into larger ones, without changing what any relation says.

The new batch is written under a name of its own, with the list of what it replaces, and becomes real
by the one rename of its sessions file. What it replaces is removed by a later run, once nobody reads.
"""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.errors import StoreDamaged
from pipeline.schema.tables import SAMPLES, TABLES
from pipeline.store.seal import digest_of, seal
from pipeline.store.sweep import sweep
from pipeline.store.warehouse import Warehouse
from pipeline.store.write import AsideParquet, read_metadata, write_bytes, write_parquet

MEGABYTE: Final = 1_000_000
_SMALL_TABLES: Final = ("tasks", "roster", "devices")


@dataclass(frozen=True)
class CompactedBatch:
    """One new batch and the batches that it replaces."""

    batch_id: str
    replaces: tuple[str, ...]


@dataclass(frozen=True)
class _Part:
    """A batch as compacting sees it."""

    batch_id: str
    size: int
    sessions: frozenset[str]


def compact(warehouse: Warehouse, target_mb: float) -> tuple[CompactedBatch, ...]:
    """Merge neighbouring batches as long as together they stay under `target_mb`; gives what was merged.

    Only for the holder of the lock. A batch that revises a session begins a new run: each samples file
    holds a session once. Raises StoreDamaged, before anything is written, where a batch is not what
    was committed.
    """
    sweep(warehouse)
    runs = _runs(warehouse, target_mb * MEGABYTE)
    for batch_id in (b for run in runs for b in run):
        _require_sound(warehouse, batch_id)
    return tuple(_merge(warehouse, run) for run in runs)


def _runs(warehouse: Warehouse, target: float) -> list[tuple[str, ...]]:
    """Runs of two or more neighbouring batches that fit together."""
    runs: list[list[_Part]] = [[]]
    for part in (_part(warehouse, batch_id) for batch_id in warehouse.committed_batches()):
        current = runs[-1]
        is_full = sum(p.size for p in current) + part.size > target
        if current and (is_full or any(p.sessions & part.sessions for p in current)):
            runs.append([])
        runs[-1].append(part)
    return [tuple(part.batch_id for part in run) for run in runs if len(run) > 1]


def _part(warehouse: Warehouse, batch_id: str) -> _Part:
    path = warehouse.table_path("sessions", batch_id)
    files = [warehouse.root / file for file in read_metadata(path)["files"]]
    size = sum(file.stat().st_size for file in (path, *files) if file.exists())
    ids = pq.read_table(path, columns=["session_id"], partitioning=None)["session_id"].to_pylist()
    return _Part(batch_id, size, frozenset(ids))


def _require_sound(warehouse: Warehouse, batch_id: str) -> None:
    files = read_metadata(warehouse.table_path("sessions", batch_id))["files"]
    for file, digest in files.items():
        path = warehouse.root / file
        if not path.exists() or digest_of(path) != digest:
            raise StoreDamaged(
                f"{file}: not what was written; nothing was changed; "
                "run `levelhold check` to see how to mend it"
            )


def _merge(warehouse: Warehouse, run: tuple[str, ...]) -> CompactedBatch:
    """Write one batch that holds all of a run, and commit it."""
    name = hashlib.sha256("\n".join(run).encode()).hexdigest()[:6]
    batch_id = f"{run[-1].partition('-')[0]}-{name}"
    files = _merge_samples(warehouse, run, batch_id)
    files += [f for kind in _SMALL_TABLES for f in _merge_table(warehouse, run, batch_id, kind)]
    _merge_measures(warehouse, run, batch_id)
    digests = {f.relative_to(warehouse.root).as_posix(): digest_of(f) for f in files}
    paths = [warehouse.table_path("sessions", b) for b in run]
    metadata = _metadata("sessions", batch_id, paths) | {"files": digests, **_history(paths)}
    # What a part replaced may still lie there, for a reader's sake: it must not count again either.
    earlier = warehouse.replaced_batches()
    gone = [*run, *(before for part in run for before in earlier.get(part, ()))]
    write_bytes("\n".join(gone).encode(), warehouse.replaces_path(batch_id))
    table = _joined(paths, TABLES["sessions"])
    write_parquet(table, warehouse.table_path("sessions", batch_id), metadata)
    seal(warehouse, batch_id)
    return CompactedBatch(batch_id, run)


def _merge_samples(warehouse: Warehouse, run: Sequence[str], batch_id: str) -> list[Path]:
    """One samples file per date, its sessions sorted, each still one row group."""
    by_day: defaultdict[str, list[Path]] = defaultdict(list)
    for path in warehouse.sample_files():
        if path.stem in run:
            by_day[path.parent.name].append(path)
    written = []
    for folder, paths in sorted(by_day.items()):
        day = date.fromisoformat(folder.removeprefix("session_date="))
        target = warehouse.samples_path(day, batch_id)
        groups = sorted(
            (_session_of(file, group), number, group)
            for number, file in enumerate(map(pq.ParquetFile, paths))
            for group in range(file.num_row_groups)
        )
        with AsideParquet(target, SAMPLES) as merged:
            for _, number, group in groups:
                merged.write(pq.ParquetFile(paths[number]).read_row_group(group))
            merged.commit(_metadata("samples", batch_id, paths))
        written.append(target)
    return written


def _session_of(file: pq.ParquetFile, group: int) -> str:
    column = file.read_row_group(group, columns=["session_id"])["session_id"]
    return str(column[0].as_py())


def _merge_table(warehouse: Warehouse, run: Sequence[str], batch_id: str, kind: str) -> list[Path]:
    paths = [p for b in run if (p := warehouse.table_path(kind, b)).exists()]
    if not paths:
        return []
    target = warehouse.table_path(kind, batch_id)
    write_parquet(_joined(paths, TABLES[kind]), target, _metadata(kind, batch_id, paths))
    return [target]


def _merge_measures(warehouse: Warehouse, run: Sequence[str], batch_id: str) -> None:
    """What was measured of the parts stands for the whole until the whole is measured."""
    by_folder: defaultdict[Path, list[Path]] = defaultdict(list)
    for path in sorted(warehouse.measures.glob("*/*/session_date=*/b*.parquet")):
        if path.stem in run:
            by_folder[path.parent].append(path)
    for folder, paths in by_folder.items():
        day = folder.name.removeprefix("session_date=")
        parts = [b for b in run if warehouse.samples_path(date.fromisoformat(day), b).exists()]
        if [path.stem for path in paths] == sorted(parts):
            table = pa.concat_tables([pq.read_table(p, partitioning=None) for p in paths])
            kind = folder.parent.name
            write_parquet(table, folder / f"{batch_id}.parquet", {"kind": kind, "joined": parts})


def _history(paths: Iterable[Path]) -> dict[str, Any]:
    """What a merged batch stands for: the batches that landed, and earlier merged ones by what they held."""
    landed: list[str] = []
    merged: dict[str, list[str]] = {}
    for path in paths:
        before = read_metadata(path)
        landed += before.get("replaces", [path.stem])
        merged |= before.get("merged", {})
        if "replaces" in before:
            merged[path.stem] = before["replaces"]
    return {"replaces": landed, "merged": merged}


def _joined(paths: Iterable[Path], schema: pa.Schema) -> pa.Table:
    return pa.concat_tables([pq.read_table(p, partitioning=None).cast(schema) for p in paths])


def _metadata(kind: str, batch_id: str, paths: Iterable[Path]) -> dict[str, Any]:
    fingerprints: dict[str, str] = {}
    for path in paths:
        fingerprints |= read_metadata(path)["fingerprints"]
    return {"kind": kind, "batch_id": batch_id, "fingerprints": fingerprints}
