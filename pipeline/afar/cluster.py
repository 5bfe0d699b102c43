"""Units of work on a cluster of dask.distributed: the same function over the same units.

A worker that dies costs nothing: the scheduler gives its unit to another one. A unit that ends every
worker that takes it, a scheduler that is gone and a cluster without workers are one sentence each.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pipeline.afar.identity import Identity, own_identity
from pipeline.errors import ClusterFailed, LevelholdError, UsageError

if TYPE_CHECKING:
    from distributed import Client, Future, Security

CONNECT_S: Final = 10.0
"""Seconds that a scheduler, and then its first worker, may take to answer."""

PATIENCE_S: Final = 60.0
"""Seconds without any worker after which the work is given up: what is done is kept."""

_LOOK_S: Final = 2.0
_RETRIES: Final = 2
_LOCAL: Final = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True)
class Tls:
    """The files of an encrypted and authenticated connection, as dask names them."""

    ca_file: Path | None = None
    cert: Path | None = None
    key: Path | None = None


@dataclass(frozen=True)
class Returned:
    """What a unit gave, or the error of ours that it raised: told apart from a worker's misfortune."""

    outcome: Any = None
    error: LevelholdError | None = None


class Cluster(Executor):
    """The workers of one scheduler, as an executor that `spread` takes."""

    def __init__(self, client: Client, patience_s: float = PATIENCE_S) -> None:
        self._client = client
        self._patience_s = patience_s

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
            self._client.cancel([future for _, future in begun])  # type: ignore[no-untyped-call]

    def _wait_for(self, name: str, future: Future[Any]) -> Returned:
        """The unit's outcome; looks now and then whether there is anybody left to give one."""
        from distributed import KilledWorker

        seen = time.monotonic()
        while True:
            try:
                found: Returned = future.result(timeout=_LOOK_S)
            except KilledWorker as error:
                raise ClusterFailed(
                    f"{name}: every worker that took it ended (the last one: {error.last_worker.address}); "
                    "see that worker's log, it may lack memory; what else was measured is kept"
                ) from error
            except TimeoutError:
                if self.workers():
                    seen = time.monotonic()
                elif time.monotonic() - seen > self._patience_s:
                    raise ClusterFailed(
                        f"{name}: no worker is left, and none came back in {self._patience_s:.0f} s; "
                        "start workers and run again: what was measured is kept"
                    ) from None
            except _lost_errors() as error:
                raise ClusterFailed(
                    f"{name}: the scheduler is gone ({_first_line(error)}); "
                    "start it again and run again: what was measured is kept"
                ) from error
            else:
                return found

    def workers(self) -> tuple[str, ...]:
        """The addresses of the workers there are; none where the scheduler does not answer."""
        try:
            return tuple(self._client.scheduler_info(n_workers=-1).get("workers", ()))
        except (OSError, TimeoutError, RuntimeError):
            return ()


@contextmanager
def cluster_at(
    address: str, tls: Tls, root: Path | None, *, patience_s: float = PATIENCE_S
) -> Iterator[Cluster]:
    """A cluster whose workers run this very program and, where it is given, see the folder `root`.

    Raises UsageError for an address that is none, ClusterFailed where no scheduler or no worker answers
    or a worker's program is another one.
    """
    distributed = _distributed()
    _require_address(address, tls)
    with _quiet():
        try:
            client = distributed.Client(
                address, timeout=CONNECT_S, security=_security(tls), set_as_default=False
            )
        except (OSError, TimeoutError, ValueError, RuntimeError) as error:
            raise ClusterFailed(
                f"{address}: no scheduler answers there ({_first_line(error)}); "
                "start one with `dask scheduler`, and look at the address"
            ) from error
        try:
            _require_workers(client, address)
            _require_same_program(client, root)
            yield Cluster(client, patience_s)
        finally:
            client.close(timeout=CONNECT_S)


def is_open(address: str) -> bool:
    """Whether what is sent there can be read and forged on the way: no TLS, and not within this machine."""
    scheme, _, rest = address.partition("://")
    return scheme == "tcp" and not rest.startswith(_LOCAL)


def named(unit: tuple[Any, ...]) -> str:
    """How a message names a unit: by the names of the samples files in it."""
    [group] = unit
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


def _look(root: str | None) -> tuple[Identity, bool]:
    """What a worker is, and whether it sees the store."""
    return own_identity(), root is None or (Path(root) / "sessions").is_dir()


def _require_workers(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError as error:
        raise ClusterFailed(
            f"{address}: the scheduler has no worker; start some with `dask worker {address}`"
        ) from error


def _require_same_program(client: Client, root: Path | None) -> None:
    shown = None if root is None else str(root.resolve())
    found = client.run(_look, shown, on_error="return")
    own = own_identity()
    for worker, answer in sorted(found.items()):
        if isinstance(answer, BaseException):
            raise ClusterFailed(
                f"worker {worker}: cannot run this version of levelhold ({_first_line(answer)}); "
                "install the same one on every machine"
            )
        identity, sees_store = answer
        if difference := own.difference(identity):
            raise ClusterFailed(
                f"worker {worker}: is another program: {difference}; the bits could differ: "
                "install the same version of levelhold and its libraries on every machine"
            )
        if not sees_store:
            raise ClusterFailed(
                f"worker {worker}: does not see {shown}; every machine needs the warehouse's folder under "
                "the same path"
            )


def _distributed() -> Any:  # noqa: ANN401 - an optional module
    try:
        import distributed
    except ModuleNotFoundError as error:
        raise UsageError(f"--scheduler needs {error.name}: install levelhold[cluster]") from error
    return distributed


def _require_address(address: str, tls: Tls) -> None:
    scheme, _, rest = address.partition("://")
    if scheme not in ("tcp", "tls") or ":" not in rest:
        raise UsageError(f"--scheduler {address}: write tcp://HOST:PORT or tls://HOST:PORT")
    given = (tls.ca_file, tls.cert, tls.key)
    if scheme == "tls" and None in given:
        raise UsageError("--scheduler tls://... needs --tls-ca-file, --tls-cert and --tls-key")
    if scheme == "tcp" and any(given):
        raise UsageError(
            f"--scheduler {address}: is not encrypted; with --tls-... write tls://{rest}"
        )
    for path in given:
        if path is not None and not path.is_file():
            raise UsageError(f"{path}: there is no such file")


def _security(tls: Tls) -> Security | None:
    if tls.ca_file is None:
        return None
    return _distributed().Security(  # type: ignore[no-any-return]
        tls_ca_file=str(tls.ca_file),
        tls_client_cert=str(tls.cert),
        tls_client_key=str(tls.key),
        require_encryption=True,
    )


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


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
