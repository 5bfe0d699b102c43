"""Digests of what a run wrote, so that two runs can be told equal without their files."""

import hashlib
from collections.abc import Iterable
from pathlib import Path

from pipeline.reports import LandReport, Outcome, WorkReport
from pipeline.settings import Settings
from pipeline.store import Warehouse, digest_of


def output_digests(
    warehouse: Warehouse, definitions: str, landed: LandReport, measured: WorkReport
) -> dict[str, str]:
    """The SHA-256 of the batch that landed, of the figures that were measured, and of the pages.

    Each is taken over the files' names and digests in the order of their names; what a run did not
    write has no entry.
    """
    batch = warehouse.root.glob(f"*/**/{landed.batch_id}.parquet") if landed.batch_id else ()
    measures = warehouse.measures
    found = {
        "batch": [path for path in batch if not path.is_relative_to(measures)],
        "measures": list(_measured_files(warehouse, definitions, measured)),
        "pages": [path for path in warehouse.pages.rglob("*") if path.is_file()],
    }
    return {what: _digest(warehouse.root, files) for what, files in found.items() if files}


def settings_digest(settings: Settings) -> str:
    """The SHA-256 of every setting, those left at their default included."""
    return hashlib.sha256(settings.model_dump_json().encode()).hexdigest()


def _measured_files(warehouse: Warehouse, definitions: str, measured: WorkReport) -> Iterable[Path]:
    for unit in sorted({u.unit for u in measured.units if u.outcome is Outcome.DONE}):
        day, batch_id = unit.split("/")
        folder = warehouse.measures / definitions
        yield from folder.glob(f"*/session_date={day}/{batch_id}.parquet")


def _digest(root: Path, files: Iterable[Path]) -> str:
    lines = (f"{digest_of(path)}  {path.relative_to(root).as_posix()}\n" for path in sorted(files))
    return hashlib.sha256("".join(lines).encode()).hexdigest()
