"""Making a release: check it alone, write it, or make it again and compare."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from pipeline.errors import StoreDamaged, UsageError
from pipeline.export.choice import DisclosureReport, ExportChoice, ExportReport, VerifyReport
from pipeline.export.definitions_files import definitions_digest
from pipeline.export.gather import devices_of, judge, released_tables
from pipeline.export.keys import Keys, random_code, read_keys
from pipeline.export.package import package_files, versions_here
from pipeline.export.past import store_as_of
from pipeline.export.register import Release, all_releases, read_release, write_release
from pipeline.settings import Settings
from pipeline.store import Warehouse, hold_lock, write_bytes


def check_release(
    warehouse: Warehouse,
    settings: Settings,
    choice: ExportChoice,
    key_file: Path | None,
    threads: int = 1,
) -> DisclosureReport:
    """What disclosure control says of a release that is not made. Writes nothing."""
    keys = read_keys(key_file) if key_file else None
    linked = _linked(choice, keys)
    judged = judge(
        warehouse, settings, choice, "this release", all_releases(warehouse), linked, threads
    )
    return judged.report


def export_release(
    warehouse: Warehouse,
    settings: Settings,
    choice: ExportChoice,
    folder: Path,
    key_file: Path | None,
    now: datetime,
    *,
    threads: int = 1,
    code: Callable[[], str] = random_code,
) -> ExportReport:
    """Make a release in `folder`, which must not be there yet, and put it on record. A refused one
    writes nothing.

    Rows of single students need a key file (made where there is none), outside the store and the
    export. Holds the warehouse's lock. The folder becomes real by one rename, after record and keys
    were written.
    """
    _check_places(warehouse, choice, folder, key_file)
    with hold_lock(warehouse, "export", now):
        keys = read_keys(key_file) if key_file and choice.has_rows else None
        linked = _linked(choice, keys)
        release_id = f"r{now:%Y%m%dT%H%M%SZ}-{code()[:6]}"
        earlier = all_releases(warehouse)
        judged = judge(warehouse, settings, choice, release_id, earlier, linked, threads)
        if judged.report.is_refused:
            return ExportReport(release_id, None, {}, judged.report)
        if keys is not None:
            students = (student_id for student_id, _ in judged.release.rows)
            wanted = {"student": students, "device": devices_of(judged)}
            keys.draw(release_id, choice.linked_to, wanted, code)
        tables = released_tables(judged, keys)
        created = now.date().isoformat()
        versions = versions_here()
        files = package_files(judged, tables, created, settings.school_name, versions)
        facts = {
            "choice": choice.as_dict(),
            "created": created,
            "versions": versions,
            "definitions": definitions_digest(files),
            "batches": list(warehouse.committed_batches()),
            "reviews": [path.name for path in warehouse.table_files("reviews")],
            "earlier": [r.release_id for r in earlier],
        }
        if keys is not None:
            keys.save()
        write_release(warehouse, replace(judged.release, facts=facts))
        _write_folder(files, folder)
    rows = {name: table.num_rows for name, table in tables.items()}
    return ExportReport(release_id, folder, rows, judged.report)


def verify_release(
    folder: Path,
    warehouse: Warehouse,
    settings: Settings,
    key_file: Path | None,
    threads: int = 1,
) -> VerifyReport:
    """Make the release in `folder` again, from the batches that it was made from, and compare every
    byte.
    """
    release_id = _release_in(folder)
    record = read_release(warehouse, release_id)
    choice = ExportChoice.from_dict(record.facts["choice"])
    if choice.has_rows and key_file is None:
        raise UsageError("rows of single students: give the key file of the release with --key")
    keys = read_keys(key_file) if key_file and choice.has_rows else None
    store = store_as_of(warehouse, record.facts["batches"], record.facts["reviews"])
    earlier = [read_release(warehouse, name) for name in record.facts["earlier"]]
    linked = keys.linked_releases(release_id) if keys else frozenset[str]()
    judged = judge(store, settings, choice, release_id, earlier, linked, threads)
    made = package_files(
        judged,
        released_tables(judged, keys),
        record.facts["created"],
        settings.school_name,
        record.facts.get("versions", versions_here()),
    )
    return replace(_compare(release_id, made, folder), notes=tuple(otherwise(record, made)))


def _linked(choice: ExportChoice, keys: Keys | None) -> frozenset[str]:
    if choice.linked_to is None:
        return frozenset()
    if keys is None:
        raise UsageError("only rows of single students are linked, and by a key file: give --key")
    return keys.linked_releases(choice.linked_to)


def _check_places(
    warehouse: Warehouse, choice: ExportChoice, folder: Path, key_file: Path | None
) -> None:
    store, out = warehouse.root.resolve(), folder.resolve()
    if folder.exists():
        raise UsageError(f"{folder}: is there already; name a new folder")
    if out.is_relative_to(store):
        raise UsageError(f"{folder}: lies in the warehouse; an export leaves it")
    if not choice.has_rows:
        return
    if key_file is None:
        raise UsageError("rows of single students need a key file: give --key FILE")
    key = key_file.resolve()
    if key.is_relative_to(store) or key.is_relative_to(out):
        raise UsageError(f"{key_file}: must lie outside the warehouse and the export")
    if not key.parent.is_dir():
        raise UsageError(f"{key_file}: there is no such folder")


def _write_folder(files: dict[str, bytes], folder: Path) -> None:
    aside = folder.with_name(f".{folder.name}.part")
    shutil.rmtree(aside, ignore_errors=True)
    for path, content in files.items():
        write_bytes(content, aside / path)
    aside.replace(folder)


def _release_in(folder: Path) -> str:
    try:
        run: dict[str, Any] = json.loads((folder / "run.json").read_text(encoding="utf-8"))
        return str(run["release_id"])
    except (OSError, ValueError, KeyError) as error:
        raise StoreDamaged(f"{folder / 'run.json'}: not the manifest of an export") from error


def otherwise(record: Release, made: Mapping[str, bytes]) -> Iterator[str]:
    """What is not as it was when the release was made, in sentences."""
    here = versions_here()
    for name, version in record.facts.get("versions", {}).items():
        if here.get(name) != version:
            yield f"it was made with {name} {version}, this is {here.get(name, 'none')}"
    if record.facts.get("definitions") not in (None, definitions_digest(made)):
        yield (
            "definitions or settings are not those that it was made with: restore school.toml, or use the "
            "same version"
        )


def _compare(release_id: str, made: dict[str, bytes], folder: Path) -> VerifyReport:
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    both = sorted(there & made.keys())
    same = tuple(path for path in both if (folder / path).read_bytes() == made[path])
    return VerifyReport(
        release_id=release_id,
        same=same,
        different=tuple(sorted(set(both) - set(same))),
        missing=tuple(sorted(made.keys() - there)),
        unknown=tuple(sorted(there - made.keys())),
    )
