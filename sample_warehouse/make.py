"""Make the Tarn Hollow sample warehouse, or with --inbox-only DIR only its two inboxes."""

import argparse
import shutil
import sys
import tempfile
from datetime import datetime
from pathlib import Path

HERE = Path(__file__).resolve().parent
if __package__ in (None, ""):  # run as a script: make both packages importable
    sys.path.insert(0, str(HERE.parent))

from pipeline.land import land_inbox  # noqa: E402
from pipeline.reading import school_settings  # noqa: E402
from pipeline.store import Warehouse  # noqa: E402
from sample_warehouse.inboxes import write_inboxes  # noqa: E402
from sample_warehouse.school import LAST_DAY, UTC_OFFSET  # noqa: E402

MADE = (
    "samples",
    "tasks",
    "roster",
    "devices",
    "sessions",
    "measures",
    "quarantine",
    "runs",
    "pages",
    "inbox",
)


def make_warehouse(folder: Path) -> None:
    """Make the whole sample in `folder`: the history landed, the last night waiting in its inbox.

    Raises FileExistsError where `folder` holds anything, unless it is the sample's own folder.
    """
    if folder.resolve() != HERE and folder.exists() and any(folder.iterdir()):
        raise FileExistsError(f"{folder}: not empty; name a new folder")
    folder.mkdir(parents=True, exist_ok=True)
    for name in MADE:
        shutil.rmtree(folder / name, ignore_errors=True)
    if folder.resolve() != HERE:
        shutil.copy(HERE / "school.toml", folder)
        shutil.copytree(HERE / "profiles", folder / "profiles", dirs_exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        history = Path(scratch) / "inbox"
        write_inboxes(history, folder / "inbox")
        land_history(history, folder)


def land_history(inbox: Path, folder: Path) -> None:
    """Land the eight weeks through the pipeline's own door, as of the evening of their last day."""
    warehouse = Warehouse(folder)
    evening = datetime.fromisoformat(f"{LAST_DAY}T22:00:00{UTC_OFFSET}")
    report = land_inbox(inbox, warehouse, school_settings(warehouse), evening)
    if report.refusals or report.waiting:
        raise RuntimeError(f"the sample's own history is not sound: {report}")
    # What landing remembers is about the scratch inbox, which is gone; and no run is at work.
    warehouse.memory_file.unlink()
    warehouse.lock_file.unlink(missing_ok=True)


def main(arguments: list[str] | None = None) -> int:
    """Make the sample here, or where the arguments say."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--inbox-only",
        type=Path,
        metavar="DIR",
        help="write only DIR/inbox_history and DIR/inbox_lastnight",
    )
    parser.add_argument(
        "--warehouse", type=Path, default=HERE, help="a new folder (default: the sample's own)"
    )
    asked = parser.parse_args(arguments)
    if asked.inbox_only:
        folder = asked.inbox_only
        write_inboxes(folder / "inbox_history", folder / "inbox_lastnight")
    else:
        make_warehouse(asked.warehouse)
    return 0


if __name__ == "__main__":
    sys.exit(main())
