"""What a measurement ran on, in one line."""

import os
import platform
from importlib.metadata import version

LIBRARIES = ("duckdb", "polars", "pyarrow", "pandas")


def machine() -> str:
    """The system, the processors, and the versions that a figure depends on."""
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    python = platform.python_version()
    return f"{platform.platform()}, {os.cpu_count()} processors, Python {python}, {versions}"
