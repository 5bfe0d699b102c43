"""Looking a store over: every byte of every batch against its digest, and every file against the batches."""

import json
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.errors import StoreDamaged
from pipeline.reports import Finding
from pipeline.store.change import is_unfinished
from pipeline.store.forgotten import read_forgotten
from pipeline.store.seal import MEND_LOST, digest_of, lost_batches, sealed_digest
from pipeline.store.sweep import half_written, uncommitted
from pipeline.store.warehouse import REPLACES_SUFFIX, Warehouse
from pipeline.store.write import read_metadata

_GIVE_UP: Final = (
    "restore it from a backup; without one, delete every file named {batch} (also the one that ends in "
    ".sha256), and its logs, where they still lie in the inbox, land again on the next run"
)
_SUFFIXES: Final = (".parquet", ".sha256", REPLACES_SUFFIX)
_BATCH_FOLDERS: Final = ("samples", "sessions", "tasks", "roster", "devices")


def audit_store(warehouse: Warehouse) -> list[Finding]:
    """Everything wrong with the files of a store, each with how to mend it; empty where all is well.

    Reads every byte of the store and changes nothing. Derived measures and reviews have no recorded digest:
    they are read in full, against the checksums of their pages.
    """
    committed = warehouse.committed_batches()
    findings = [_unfinished()] if is_unfinished(warehouse) else []
    findings += [_lost(batch_id) for batch_id in lost_batches(warehouse)]
    sound = []
    for batch_id in committed:
        # A kill right after the commit leaves a batch without its seal; the next run writes it.
        is_fresh = batch_id == committed[-1] or batch_id in warehouse.replaced_batches()
        fault = _sessions_fault(warehouse, batch_id, is_fresh=is_fresh)
        if fault is None:
            sound.append(batch_id)
            findings += _batch_faults(warehouse, batch_id)
        else:
            findings.append(fault)
    findings += _strays(warehouse, sound)
    findings += _said_twice(warehouse, sound)
    findings += _unreadable(warehouse)
    return findings


def _unfinished() -> Finding:
    file = ".change"
    said = (
        f"{file}: a change of many files was cut short; until it is finished, files may not agree"
    )
    return Finding("unfinished", file, said, "the next run finishes it")


def _lost(batch_id: str) -> Finding:
    file = f"sessions/{batch_id}.parquet"
    return Finding("missing", file, f"{file}: missing, though its batch was committed", MEND_LOST)


def _sessions_fault(warehouse: Warehouse, batch_id: str, *, is_fresh: bool) -> Finding | None:
    """What is wrong with the file that commits a batch; the rest of the batch is judged by it."""
    path = warehouse.table_path("sessions", batch_id)
    file = f"sessions/{path.name}"
    mend = _GIVE_UP.format(batch=batch_id)
    sealed = sealed_digest(warehouse, batch_id)
    if sealed is None and not is_fresh:
        said = f"{file}: there is no {batch_id}.sha256 beside it, so it is not known whether it is whole"
        return Finding("unsealed", file, said, mend)
    if sealed is not None and digest_of(path) != sealed:
        return Finding("changed", file, f"{file}: not what was written ({_how(path)})", mend)
    try:
        read_metadata(path)["files"]
    except (StoreDamaged, KeyError):
        return Finding("unreadable", file, f"{file}: cannot be read", mend)
    return None


def _batch_faults(warehouse: Warehouse, batch_id: str) -> Iterator[Finding]:
    """Files of a sound batch that are missing or not what was written."""
    digests = read_metadata(warehouse.table_path("sessions", batch_id))["files"]
    mend = _GIVE_UP.format(batch=batch_id)
    for file, digest in sorted(digests.items()):
        path = warehouse.root / file
        if not path.is_file():
            yield Finding("missing", file, f"{file}: missing, though its batch was committed", mend)
        elif digest_of(path) != digest:
            yield Finding("changed", file, f"{file}: not what was written ({_how(path)})", mend)


def _how(path: Path) -> str:
    """How a changed file looks: still readable, or not."""
    try:
        pq.read_table(path, partitioning=None, page_checksum_verification=True)
    except (OSError, pa.ArrowException) as error:
        return f"cut off or damaged: {str(error).splitlines()[0][:80]}"
    return "still readable, its content differs"


def _strays(warehouse: Warehouse, sound: list[str]) -> Iterator[Finding]:
    """Files that no committed batch owns."""
    mend = "the next run removes it; or delete it"
    known = {*lost_batches(warehouse), *_replaced_ids(warehouse)}
    for path in (*half_written(warehouse), *uncommitted(warehouse)):
        if path.stem not in known:
            file = _name(warehouse, path)
            yield Finding("stray", file, f"{file}: left by a run that did not end", mend)
    owned = {
        file
        for batch_id in sound
        for file in read_metadata(warehouse.table_path("sessions", batch_id))["files"]
    }
    committed = {*warehouse.committed_batches(), *_replaced_ids(warehouse)}
    for folder in _BATCH_FOLDERS:
        for path in sorted((warehouse.root / folder).rglob("*")):
            file = _name(warehouse, path)
            if path.is_file() and _is_foreign(path, file, owned, set(sound), committed):
                said = f"{file}: no batch owns this file"
                yield Finding("stray", file, said, "move it out of the warehouse, or delete it")


def _replaced_ids(warehouse: Warehouse) -> set[str]:
    """Batches that a compacted one stands for; the next run removes them."""
    return {batch_id for ids in warehouse.replaced_batches().values() for batch_id in ids}


def _is_foreign(
    path: Path, file: str, owned: set[str], sound: set[str], committed: set[str]
) -> bool:
    """Whether a file in a batch folder belongs to no batch; what a run left is reported apart."""
    if path.name.startswith(".") or file in owned:
        return False
    if not path.stem.startswith("b") or path.suffix not in _SUFFIXES:
        return True
    if path.parent.name == "sessions":
        return False
    return path.stem in sound or (path.stem in committed and path.suffix != ".parquet")


def _said_twice(warehouse: Warehouse, sound: list[str]) -> Iterator[Finding]:
    """Revisions of a session that more than one batch holds."""
    holders: defaultdict[tuple[str, int], list[str]] = defaultdict(list)
    for batch_id in sound:
        path = warehouse.table_path("sessions", batch_id)
        columns = ["session_id", "revision"]
        for row in pq.read_table(path, columns=columns, partitioning=None).to_pylist():
            holders[row["session_id"], row["revision"]].append(batch_id)
    for (session_id, revision), batches in sorted(holders.items()):
        if len(batches) > 1:
            file = f"sessions/{batches[-1]}.parquet"
            others = ", ".join(batches[:-1])
            said = f"{file}: revision {revision} of session {session_id} is also in batch {others}"
            mend = "keep the batch that belongs here and delete every file named like the other one"
            yield Finding("session_twice", file, said, mend)


def _unreadable(warehouse: Warehouse) -> Iterator[Finding]:
    """Measures, reviews and releases whose pages do not match their checksums; unreadable small files."""
    for path in sorted(warehouse.measures.rglob("*.parquet")):
        if (how := _how(path)).startswith("cut off"):
            file = _name(warehouse, path)
            mend = "delete it; `levelhold score` computes it again"
            yield Finding("unreadable", file, f"{file}: {how}", mend)
    for path in (*warehouse.table_files("reviews"), *sorted(warehouse.releases.glob("*.parquet"))):
        if (how := _how(path)).startswith("cut off"):
            file = _name(warehouse, path)
            yield Finding("unreadable", file, f"{file}: {how}", "restore it from a backup")
    try:
        read_forgotten(warehouse)
    except StoreDamaged as error:
        yield Finding("unreadable", "forgotten/", str(error), "restore it from a backup")
    for path in sorted(warehouse.quarantine.rglob("*.reason.json")):
        try:
            json.loads(path.read_text(encoding="utf-8"))
        except ValueError:
            file = _name(warehouse, path)
            yield Finding(
                "unreadable", file, f"{file}: no JSON", "delete it; deliver the file again"
            )


def _name(warehouse: Warehouse, path: Path) -> str:
    return path.relative_to(warehouse.root).as_posix()
