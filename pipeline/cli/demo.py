"""The demo: one night of the invented Tarn Hollow school."""

import shutil
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import worker_count
from pipeline.cli.told import stage_shown
from pipeline.cli.told_night import night_lines
from pipeline.errors import UsageError

STORE = ("profiles", "samples", "tasks", "roster", "devices", "sessions")

SAMPLE_NIGHT = datetime(2026, 3, 28, 20, tzinfo=UTC)
"""The night after the last session in the sample's inbox."""


def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to put the school.")] = Path(
        "demo"
    ),
) -> None:
    """Run one night of an invented school and say what it found.

    Example: levelhold demo
    """
    from pipeline.nightly import run_night
    from pipeline.reading import school_settings
    from pipeline.store.warehouse import Warehouse

    copy_school(folder)
    warehouse = Warehouse(folder / "warehouse")
    settings = school_settings(warehouse)
    now = night_of(datetime.now(UTC))
    print(f"Tarn Hollow, an invented school, is in {folder}: eight weeks, and a night's inbox")
    with stage_shown() as progress:
        report = run_night(
            folder / "inbox",
            warehouse,
            settings,
            now,
            workers=worker_count(None),
            progress=progress,
        )
    print(*night_lines(report), sep="\n")
    print("Open the page in any browser; no network is needed.")


def night_of(now: datetime) -> datetime:
    """When the demo's night takes place: now, or where the clock is before it, the sample's own night.

    So no flight of the sample lies in the future, whatever the machine's clock says.
    """
    return max(now, SAMPLE_NIGHT)


def sample_root() -> Path:
    """The folder that holds the sample: inside the wheel, or in the checkout."""
    packed = Path(str(resources.files("pipeline") / "_sample"))
    return packed if packed.is_dir() else Path(__file__).resolve().parents[2] / "sample_warehouse"


def copy_school(folder: Path) -> None:
    """Copy the sample's warehouse and inbox into `folder`; a demo that is there is left as it is.

    Raises UsageError where the folder holds something else.
    """
    if (folder / "warehouse" / "sessions").is_dir() and (folder / "inbox").is_dir():
        return
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(f"{folder}: there is something else in it; name a new folder")
    part = folder.with_name(f"{folder.name}.part")
    shutil.rmtree(part, ignore_errors=True)
    sample = sample_root()
    shutil.copytree(sample / "inbox", part / "inbox")
    for name in STORE:
        shutil.copytree(sample / name, part / "warehouse" / name)
    shutil.copy(sample / "school.toml", part / "warehouse")
    part.rename(folder)
