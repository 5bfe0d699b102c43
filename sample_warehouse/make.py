"""Make the Tarn Hollow sample warehouse, or with --inbox-only DIR only its two inboxes."""

import argparse
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
if __package__ in (None, ""):  # run as a script: make the package importable
    sys.path.insert(0, str(HERE.parent))

from sample_warehouse.inboxes import write_inboxes  # noqa: E402


def land_history(inbox: Path, warehouse: Path) -> None:
    """Land the eight weeks of history through the real pipeline."""
    raise NotImplementedError("landing the history is wired with the pipeline")


def main(arguments: list[str] | None = None) -> int:
    """Write the inboxes, and unless told otherwise land the history into the warehouse here."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--inbox-only",
        type=Path,
        metavar="DIR",
        help="write DIR/inbox_history and DIR/inbox_lastnight",
    )
    parser.add_argument(
        "--warehouse", type=Path, default=HERE, help="the warehouse to make (default: this folder)"
    )
    asked = parser.parse_args(arguments)
    if asked.inbox_only:
        write_inboxes(asked.inbox_only / "inbox_history", asked.inbox_only / "inbox_lastnight")
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        history = Path(scratch) / "inbox_history"
        write_inboxes(history, asked.warehouse / "inbox")
        land_history(history, asked.warehouse)
    return 0


if __name__ == "__main__":
    sys.exit(main())
