"""What several test files read, made by one of the processes for all of them."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """A folder of that name as `make` fills it, once in a run of the tests; nobody may write to it.

    Whoever asks first makes it, the others wait; where that fails, each of them fails for itself.
    """
    own = factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    folder, is_made = shared / name, shared / f"{name}.made"
    with FileLock(shared / f"{name}.lock"):
        if not is_made.exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            make(folder)
            is_made.touch()
    return folder
