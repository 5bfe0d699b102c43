"""Making a process die, or find the disk full, at the n-th time it touches the disk.

Every way in which the pipeline changes a disk is counted: opening a file to write, each write (cut off
half-way), Parquet's writing and closing, flush, rename, removal, making and exchanging folders.
"""

import builtins
import errno
import io
import os
import signal
import sys
from collections.abc import Callable
from types import TracebackType
from typing import IO, Any, Literal, ParamSpec, TypeVar

import pyarrow.parquet as pq

How = Literal["kill", "full"]
Given = ParamSpec("Given")
Result = TypeVar("Result")

_CALLS = ("fsync", "replace", "rename", "unlink", "remove", "mkdir", "rmdir", "link")
_NEED_ROOM = {"write", "write_table", "close", "mkdir", "fsync", "link"}


class Fate:
    """Counts the points that a process passes, and strikes at the one that is asked for (0: never)."""

    def __init__(self, point: int, how: How) -> None:
        self.passed = 0
        self.target = point
        self._how = how
        self._is_full = False

    def meets(self, what: str) -> bool:
        """Whether the call that is about to be made meets its fate; passing is counted."""
        if self._how == "full":
            if what not in _NEED_ROOM:
                return False
            self.passed += 1
            # A full disk stays full.
            self._is_full = self._is_full or self.passed == self.target
            return self._is_full
        self.passed += 1
        return self.passed == self.target

    def strike(self) -> None:
        """Die at once, or say what a full disk says."""
        if self._how == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


class Written:
    """A file opened for writing whose writes may be cut off half-way."""

    def __init__(self, file: IO[Any], fate: Fate) -> None:
        self._file = file
        self._fate = fate

    def write(self, data: str | bytes) -> int:
        if self._fate.meets("write"):
            self._file.write(data[: len(data) // 2])
            self._file.flush()
            self._fate.strike()
        return int(self._file.write(data))

    def __getattr__(self, name: str) -> object:
        return getattr(self._file, name)

    def __enter__(self) -> "Written":
        self._file.__enter__()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.__exit__(kind, error, trace)


def interpose(fate: Fate) -> None:
    """From now on, let every change of the disk by this process meet its fate."""
    for name in _CALLS:
        setattr(os, name, _counted(getattr(os, name), name, fate))
    for name in ("write_table", "close"):
        setattr(pq.ParquetWriter, name, _counted(getattr(pq.ParquetWriter, name), name, fate))
    publishing = sys.modules["pipeline.pages.publish"]
    vars(publishing)["_exchange"] = _counted(vars(publishing)["_exchange"], "exchange", fate)
    opened: Callable[..., IO[Any]] = io.open

    def counted_open(
        file: str | os.PathLike[str] | int, mode: str = "r", *rest: object, **options: object
    ) -> IO[Any] | Written:
        if not set(mode) & set("wax+"):
            return opened(file, mode, *rest, **options)
        if fate.meets("open"):
            fate.strike()
        return Written(opened(file, mode, *rest, **options), fate)

    for module in (io, builtins):
        vars(module)["open"] = counted_open


def _counted(call: Callable[Given, Result], name: str, fate: Fate) -> Callable[Given, Result]:
    def counted(*arguments: Given.args, **options: Given.kwargs) -> Result:
        if fate.meets(name):
            fate.strike()
        return call(*arguments, **options)

    return counted
