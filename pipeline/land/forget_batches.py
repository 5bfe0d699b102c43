"""Forgetting in batches: samples, tasks, roster and sessions without one student, digests and seals anew."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline.errors import StoreDamaged
from pipeline.land.mentions import SESSION_COLUMNS, Named
from pipeline.land.rows import SessionRow, fingerprint
from pipeline.schema.tables import SAMPLES, TABLES
from pipeline.store import AsideParquet, Change, Warehouse, digest_of, read_metadata, write_parquet
from pipeline.store.seal import seal_text


def forget_in_batches(
    warehouse: Warehouse, change: Change, named: Named, rebooked: Mapping[str, str]
) -> None:
    """Prepare every batch that holds the student; `rebooked` are sessions that stay, for whom they are."""
    for batch_id in warehouse.committed_batches():
        path = warehouse.table_path("sessions", batch_id)
        metadata = read_metadata(path)
        table = pq.read_table(path, partitioning=None)
        kept = _sessions(table, named, rebooked)
        files = _files(warehouse, change, named, metadata["files"])
        if kept.equals(table) and files == metadata["files"]:
            continue
        metadata = _without_logs(metadata, named) | {"files": files}
        new = change.put(path)
        write_parquet(kept, new, metadata)
        seal = seal_text(digest_of(new), batch_id)
        change.put_bytes(seal, warehouse.seal_path(batch_id))


def forget_in_measures(warehouse: Warehouse, change: Change, named: Named) -> None:
    """Prepare what was measured of the student's sessions: derived, so what cannot be told apart goes."""
    for path in sorted(warehouse.measures.glob("*/*/session_date=*/b*.parquet")):
        table = pq.read_table(path, partitioning=None)
        column = next((c for c in SESSION_COLUMNS if c in table.column_names), None)
        if column is None:
            change.remove(path)
            continue
        kept = _without_sessions(table, named, column)
        if kept.num_rows < table.num_rows:
            write_parquet(kept, change.put(path), read_metadata(path))


def _sessions(table: pa.Table, named: Named, rebooked: Mapping[str, str]) -> pa.Table:
    kept = _without_sessions(table, named, "session_id")
    rows = [_rebooked(row, named, rebooked) for row in kept.to_pylist()]
    return pa.Table.from_pylist(rows, schema=table.schema)


def _rebooked(row: dict[str, Any], named: Named, rebooked: Mapping[str, str]) -> dict[str, Any]:
    """A session that was delivered under the student's code, as if delivered under the right one."""
    if row["student_id"] != named.student_id:
        return row
    owner = rebooked[row["session_id"]]
    said = SessionRow(**{name: row[name] for name in SessionRow.__dataclass_fields__})
    return {**row, "student_id": owner, "row_sha256": fingerprint(replace(said, student_id=owner))}


def _files(
    warehouse: Warehouse, change: Change, named: Named, digests: Mapping[str, str]
) -> dict[str, str]:
    """The files of a batch with their digests, those that hold the student prepared anew."""
    found: dict[str, str] = {}
    for file, digest in digests.items():
        path = warehouse.root / file
        kind = file.partition("/")[0]
        if not _holds(path, kind, named):
            found[file] = digest
            continue
        if digest_of(path) != digest:
            raise StoreDamaged(
                f"{file}: not what was written; nothing was changed; "
                "run `levelhold check` to see how to mend it"
            )
        new = _rewritten(change, path, kind, named)
        if new is not None:
            found[file] = digest_of(new)
    return found


def _holds(path: Path, kind: str, named: Named) -> bool:
    column = "student_id" if kind == "roster" else "session_id"
    if column not in pq.read_schema(path).names:
        return False
    values = pq.read_table(path, columns=[column], partitioning=None)[column].unique().to_pylist()
    words = {named.student_id} if column == "student_id" else named.session_ids
    return not words.isdisjoint(values)


def _rewritten(change: Change, path: Path, kind: str, named: Named) -> Path | None:
    """The prepared file without the student; None where nothing is left, so that the file goes."""
    if kind == "samples":
        return _samples(change, path, named)
    table = pq.read_table(path, partitioning=None)
    if kind == "roster":
        kept = table.filter(pc.not_equal(table["student_id"], named.student_id))
    else:
        kept = _without_sessions(table, named, "session_id")
    if not kept.num_rows:
        change.remove(path)
        return None
    new = change.put(path)
    write_parquet(kept.cast(TABLES[kind]), new, _without_logs(read_metadata(path), named))
    return new


def _samples(change: Change, path: Path, named: Named) -> Path | None:
    """A samples file, one row group a session, without the student's row groups."""
    source = pq.ParquetFile(path)
    kept = [
        number
        for number in range(source.num_row_groups)
        if _session_of(source, number) not in named.session_ids
    ]
    if not kept:
        change.remove(path)
        return None
    new = change.put(path)
    with AsideParquet(new, SAMPLES) as file:
        for number in kept:
            file.write(source.read_row_group(number))
        file.commit(_without_logs(read_metadata(path), named))
    return new


def _session_of(source: pq.ParquetFile, number: int) -> str:
    column = source.read_row_group(number, columns=["session_id"])["session_id"]
    return str(column[0].as_py())


def _without_sessions(table: pa.Table, named: Named, column: str) -> pa.Table:
    values = table[column].unique()
    gone = pa.array([v for v in values.to_pylist() if named.is_session(v)], pa.string())
    return table.filter(pc.invert(pc.is_in(table[column], value_set=gone)))


def _without_logs(metadata: Mapping[str, Any], named: Named) -> dict[str, Any]:
    logs = {s: d for s, d in metadata["fingerprints"].items() if s not in named.session_ids}
    return {**metadata, "fingerprints": logs}
