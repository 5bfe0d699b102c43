"""Map a work function over units: one after another, or over worker processes.

A worker never knows where it runs: it takes one unit and gives back a report. A unit whose worker
dies is tried once more in a fresh process.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import TypeVar

Unit = TypeVar("Unit")
Outcome = TypeVar("Outcome")


def spread(
    work: Callable[[Unit], Outcome],
    units: Iterable[Unit],
    *,
    workers: int = 1,
    executor: Executor | None = None,
) -> Iterator[Outcome]:
    """The outcome of `work` for each unit, in the order of the units.

    `workers` above 1 uses that many processes (`work` and the units must pickle); an `executor` that
    is handed in is used as it is. What `work` raises is raised here.
    """
    todo = list(units)
    if executor is not None:
        yield from executor.map(work, todo)
    elif workers <= 1 or len(todo) <= 1:
        yield from map(work, todo)
    else:
        yield from _over_processes(work, todo, min(workers, len(todo)))


def _pool(workers: int) -> ProcessPoolExecutor:
    # Spawned, not forked: DuckDB and polars may already run threads in this process.
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"))


def _over_processes(
    work: Callable[[Unit], Outcome], units: list[Unit], workers: int
) -> Iterator[Outcome]:
    with _pool(workers) as pool:
        futures: list[Future[Outcome]] = [pool.submit(work, unit) for unit in units]
        for unit, future in zip(units, futures, strict=True):
            try:
                yield future.result()
            except BrokenProcessPool:
                yield _once_more(work, unit)


def _once_more(work: Callable[[Unit], Outcome], unit: Unit) -> Outcome:
    """A unit whose worker died, alone in a fresh process; if it dies again, BrokenProcessPool is raised."""
    with _pool(1) as pool:
        return pool.submit(work, unit).result()
