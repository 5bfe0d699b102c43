"""The run reports of a warehouse, read back."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pipeline.errors import StoreDamaged
from pipeline.store import Warehouse, write_bytes


def newest_report(warehouse: Warehouse) -> Mapping[str, Any] | None:
    """What the newest run told; None where none left a report. Raises StoreDamaged where it is no report."""
    files = warehouse.run_reports()
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


@dataclass(frozen=True)
class Failure:
    """A night that ended early: when it began, the exit code that it left, and what it said."""

    started_at: str
    exit_code: int
    sentence: str


def shown(moment: str) -> str:
    """A moment that a run put on record, to the minute; what is no moment as it stands."""
    try:
        return f"{datetime.fromisoformat(moment):%Y-%m-%d %H:%M} UTC"
    except ValueError:
        return moment


def failure_file(warehouse: Warehouse) -> Path:
    """Where the latest failure lies until a night ends well."""
    return warehouse.runs / "failed.json"


def write_failure(warehouse: Warehouse, failure: Failure) -> None:
    """Keep a failure for `last_failure` to tell."""
    text = json.dumps(asdict(failure), indent=2, ensure_ascii=False)
    write_bytes(f"{text}\n".encode("utf-8", "surrogateescape"), failure_file(warehouse))


def last_failure(warehouse: Warehouse) -> Failure | None:
    """The latest failure; None where the latest night ended well. Raises StoreDamaged where it is none."""
    try:
        return Failure(**json.loads(failure_file(warehouse).read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None
    except (ValueError, TypeError) as error:
        raise StoreDamaged(
            "runs/failed.json: not readable; remove it, nothing else rests on it"
        ) from error
