"""Units of work on a cluster of dask.distributed: the same function over the same units.

A worker that dies costs nothing: the scheduler gives its unit to another one. A unit that ends every
worker that takes it, a scheduler that is gone and a cluster without workers are one sentence each.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pipeline.afar.address import Tls, distributed_library, require_address, security_of
from pipeline.afar.bucket import Place
from pipeline.afar.identity import Identity, own_identity
from pipeline.afar.workers import first_line, require_same_program, within
from pipeline.errors import ClusterFailed, LevelholdError

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_S: Final = 10.0
"""Seconds that a scheduler, and then its first worker, may take to answer."""

PATIENCE_S: Final = 60.0
"""Seconds without any worker after which the work is given up: what is done is kept."""

PROGRESS_S: Final = 3600.0
"""Seconds that one unit may be waited for, workers or not."""

_GLANCE_S: Final = 2.0
_RETRIES: Final = 2


@dataclass(frozen=True)
class Returned:
    """What a unit gave, or the error of ours that it raised: told apart from a worker's misfortune."""

    outcome: Any = None
    error: LevelholdError | None = None


class Cluster(Executor):
    """The workers of one scheduler, as an executor that `spread` takes."""

    def __init__(
        self, client: Client, patience_s: float = PATIENCE_S, progress_s: float = PROGRESS_S
    ) -> None:
        self._client = client
        self._patience_s = patience_s
        self._progress_s = progress_s

    def map(
        self,
        fn: Callable[..., Any],
        *iterables: Iterable[Any],
        timeout: float | None = None,
        chunksize: int = 1,
    ) -> Iterator[Any]:
        """The outcome for each unit, in their order. Raises ClusterFailed where the cluster cannot go on."""
        units = list(zip(*iterables, strict=True))
        own = own_identity()
        futures = [
            self._client.submit(_on_worker, own, fn, unit, pure=False, retries=_RETRIES)
            for unit in units
        ]
        return self._outcomes(list(zip(units, futures, strict=True)))

    def _outcomes(self, begun: list[tuple[tuple[Any, ...], Future[Any]]]) -> Iterator[Any]:
        try:
            for unit, future in begun:
                found = self._wait_for(named(unit), future)
                if found.error is not None:
                    raise found.error
                yield found.outcome
        finally:
            self._call_off([future for _, future in begun])

    def _call_off(self, futures: list[Future[Any]]) -> None:
        """Let the scheduler drop what was not begun; one that is gone has nothing to drop."""
        with suppress(*_lost_errors(), OSError, RuntimeError):
            within(CONNECT_S, lambda: self._client.cancel(futures))  # type: ignore[no-untyped-call]

    def _wait_for(self, name: str, future: Future[Any]) -> Returned:
        """The unit's outcome; looks now and then whether there is anybody left to give one."""
        from distributed import KilledWorker

        began = seen = time.monotonic()
        while True:
            try:
                found: Returned = future.result(timeout=_GLANCE_S)
            except KilledWorker as error:
                raise ClusterFailed(
                    f"{name}: every worker that took it ended (the last one: {error.last_worker.address}); "
                    "see that worker's log, it may lack memory; what else was measured is kept"
                ) from error
            except TimeoutError:
                now = time.monotonic()
                if self.workers():
                    seen = now
                if now - seen > self._patience_s:
                    raise ClusterFailed(
                        f"{name}: no worker is left, or the scheduler does not answer, for "
                        f"{self._patience_s:.0f} s; start workers and run again: what was measured is kept"
                    ) from None
                if now - began > self._progress_s:
                    raise ClusterFailed(
                        f"{name}: no worker gave it back in {self._progress_s / 60:.0f} min; see the "
                        "workers' logs, start them anew and run again: what was measured is kept"
                    ) from None
            except _lost_errors() as error:
                raise ClusterFailed(
                    f"{name}: the scheduler is gone ({first_line(error)}); "
                    "start it again and run again: what was measured is kept"
                ) from error
            else:
                return found

    def workers(self) -> tuple[str, ...]:
        """The addresses of the workers there are; none where the scheduler does not answer."""
        try:
            told = within(
                min(CONNECT_S, self._patience_s), lambda: self._client.scheduler_info(n_workers=-1)
            )
        except (OSError, TimeoutError, RuntimeError):
            return ()
        return () if told is None else tuple(told.get("workers", ()))


@contextmanager
def cluster_at(
    address: str,
    tls: Tls,
    store: Path | Place | None,
    *,
    patience_s: float = PATIENCE_S,
    progress_s: float = PROGRESS_S,
) -> Iterator[Cluster]:
    """A cluster whose workers run this very program and see the store, a folder or a place, if one is given.

    Raises UsageError for an address that is none, ClusterFailed where no scheduler or no worker answers
    or a worker's program is another one.
    """
    distributed = distributed_library()
    require_address(address, tls)
    with _quiet():
        try:
            client = distributed.Client(
                address, timeout=CONNECT_S, security=security_of(tls), set_as_default=False
            )
        except (OSError, TimeoutError, ValueError, RuntimeError) as error:
            raise ClusterFailed(
                f"{address}: no scheduler answers there ({first_line(error)}); "
                "start one with `dask scheduler`, and look at the address"
            ) from error
        try:
            _require_workers(client, address)
            require_same_program(client, address, own_identity(), store)
            yield Cluster(client, patience_s, progress_s)
        finally:
            within(2 * CONNECT_S, lambda: client.close(timeout=CONNECT_S))


def named(unit: tuple[Any, ...]) -> str:
    """How a message names a unit: by the names of the samples files in it."""
    group = getattr(unit[0], "group", unit[0])
    names = (
        [getattr(one, "name", str(one)) for one in group] if isinstance(group, tuple) else [group]
    )
    return f"{names[0]}" if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"


def _on_worker(expected: Identity, work: Callable[..., Any], unit: tuple[Any, ...]) -> Returned:
    """Do one unit, if this worker, who may have come late, is of the same program."""
    difference = expected.difference(own_identity())
    if difference:
        return Returned(error=ClusterFailed(f"a worker is another program: {difference}"))
    try:
        return Returned(outcome=work(*unit))
    except LevelholdError as error:
        return Returned(error=error)


def _require_workers(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError as error:
        raise ClusterFailed(
            f"{address}: the scheduler has no worker; start some with `dask worker {address}`"
        ) from error


@contextmanager
def _quiet() -> Iterator[None]:
    """What the library tells of lost connections is told here in one sentence instead."""
    logger = logging.getLogger("distributed")
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)


def _lost_errors() -> tuple[type[BaseException], ...]:
    from concurrent.futures import CancelledError

    from distributed.client import FutureCancelledError
    from distributed.comm.core import CommClosedError

    return CancelledError, FutureCancelledError, CommClosedError, ConnectionError
