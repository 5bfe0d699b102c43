"""The operator's commands: init, status, schedule."""

from pathlib import Path
from typing import Annotated

import typer


def init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new folder for the school.")],
) -> None:
    """Make a new school's folders: an empty inbox, and a warehouse with its settings.

    Example: levelhold init our-school
    """
    from pipeline.operate.new_school import begin_school

    school = begin_school(folder)
    for path in school.written:
        print(f"wrote {path}")
    if not school.written:
        print(f"{folder}: all of it is there already, nothing was changed")
    print(f"Put students, sessions and logs into {school.inbox}; then run:")
    print(f"levelhold nightly --inbox {school.inbox} --warehouse {school.warehouse}")
