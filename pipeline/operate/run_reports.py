"""The run reports of a warehouse, read back."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.errors import StoreDamaged
from pipeline.store import Warehouse


def report_files(warehouse: Warehouse) -> tuple[Path, ...]:
    """The files of all run reports, oldest first."""
    # By stem: with its ending, the second run of a second would sort before the first.
    return tuple(sorted(warehouse.runs.glob("r*.json"), key=lambda path: path.stem))


def newest_report(warehouse: Warehouse) -> Mapping[str, Any] | None:
    """What the newest run told; None where none left a report. Raises StoreDamaged where it is no report."""
    files = report_files(warehouse)
    if not files:
        return None
    try:
        told = json.loads(files[-1].read_text(encoding="utf-8"))
    except ValueError as error:
        raise StoreDamaged(
            f"runs/{files[-1].name}: not a readable run report; remove it, nothing else rests on it"
        ) from error
    if not isinstance(told, dict):
        raise StoreDamaged(f"runs/{files[-1].name}: not a run report; remove it")
    return told
