"""Forgetting outside batches: reviews, releases, run reports, landing's memory, quarantine."""

import json
import re
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.land.inbox import LOG_ENDINGS
from pipeline.land.mentions import Named, is_named_in
from pipeline.land.quarantine import PAPERS, without_lines
from pipeline.store import Change, Warehouse, read_metadata, write_parquet
from pipeline.store.forgotten import hash_of

_NUMBERED: Final = re.compile(r"^\d+~")
_REASONS: Final = ".reason.json"


def forget_in_reviews(warehouse: Warehouse, change: Change, named: Named) -> None:
    """Notes about the student or their sessions go; other notes keep their text without the codes."""
    for path in warehouse.table_files("reviews"):
        table = pq.read_table(path, partitioning=None)
        rows = table.to_pylist()
        kept = [{**r, "note": r["note"] and named.redacted(r["note"])} for r in rows]
        kept = [r for r in kept if not _is_about(r, named)]
        if not kept:
            change.remove(path)
        elif kept != rows:
            new = pa.Table.from_pylist(kept, schema=table.schema)
            write_parquet(new, change.put(path), read_metadata(path))


def _is_about(review: dict[str, Any], named: Named) -> bool:
    is_session = any(named.is_session(review[c]) for c in ("session_id", "maneuver_id"))
    return is_session or review["student_id"] == named.student_id


def forget_in_releases(warehouse: Warehouse, change: Change, named: Named, key: bytes) -> None:
    """In the record of what was exported, codes give way to keyed hashes.

    The record must still tell who was in a released cell, or the next release could be subtracted
    from it and show the very student who was forgotten.
    """
    for path in sorted(warehouse.releases.glob("*.parquet")):
        table = pq.read_table(path, partitioning=None)
        rows = table.to_pylist()
        kept = [_hashed(row, named, key) for row in rows]
        if kept != rows:
            new = pa.Table.from_pylist(kept, schema=table.schema)
            write_parquet(new, change.put(path), read_metadata(path))


def _hashed(row: dict[str, Any], named: Named, key: bytes) -> dict[str, Any]:
    if row["student_id"] != named.student_id:
        return row
    coded = {"student_id": hash_of(key, "student", row["student_id"])}
    if named.is_session(row["name"]):
        coded["name"] = hash_of(key, "session", row["name"])
    return {**row, **coded}


def forget_in_runs(warehouse: Warehouse, change: Change, named: Named) -> None:
    """Run reports lose every entry that names the student."""
    for path in sorted(warehouse.runs.glob("*.json")):
        _rewrite_json(path, change, named)


def forget_in_memory(warehouse: Warehouse, change: Change, named: Named) -> None:
    """What landing remembers of the student's files."""
    if warehouse.memory_file.exists():
        _rewrite_json(warehouse.memory_file, change, named, indent=None)


def forget_in_quarantine(warehouse: Warehouse, change: Change, named: Named) -> None:
    """Copies of the student's files go, with their reasons; papers lose the student's lines."""
    for path in sorted(p for p in warehouse.quarantine.rglob("*") if p.is_file()):
        name = _NUMBERED.sub("", path.name)
        if named.is_session(_session_of(name.removesuffix(_REASONS))):
            change.remove(path)
        elif name.endswith(_REASONS):
            _rewrite_json(path, change, named)
        elif name in PAPERS:
            _rewrite_paper(path, change, named)
        elif is_named_in(path, named):
            change.remove(path)


def _session_of(name: str) -> str:
    ending = next((e for e in LOG_ENDINGS if name.lower().endswith(e)), "")
    return name[: len(name) - len(ending)]


def _rewrite_json(path: Path, change: Change, named: Named, indent: int | None = 2) -> None:
    try:
        told = json.loads(path.read_text(encoding="utf-8", errors="surrogateescape"))
    except ValueError:
        # No JSON, so it cannot be told what in it is the student's.
        change.remove(path)
        return
    if named.any_in(told):
        separators = None if indent else (",", ":")
        text = json.dumps(
            named.without(told), indent=indent, separators=separators, ensure_ascii=False
        )
        change.put_bytes(text.encode("utf-8", "surrogateescape"), path)


def _rewrite_paper(path: Path, change: Change, named: Named) -> None:
    content = path.read_bytes()
    words = {named.student_id, *named.session_ids}
    kept = without_lines(content, words.__contains__)
    if kept != content:
        change.put_bytes(kept, path)
