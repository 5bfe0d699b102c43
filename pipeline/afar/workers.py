"""What the workers of a cluster are, asked of each before it is given work, and how long one may wait."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Final, TypeVar

from pipeline.afar.bucket import Bucket, Place, require_library
from pipeline.afar.identity import Identity, own_identity
from pipeline.errors import ClusterFailed, LevelholdError

if TYPE_CHECKING:
    from distributed import Client

LOOK_S: Final = 90.0
"""Seconds that all workers may take to say what they are; longer than a store may take to answer one."""

Given = TypeVar("Given")


def require_same_program(
    client: Client, address: str, own: Identity, store: Path | Place | None
) -> None:
    """Raises ClusterFailed where a worker does not answer, is another program, or does not see the store."""
    seen = store.resolve() if isinstance(store, Path) else store
    found = within(LOOK_S, lambda: client.run(_look, seen, on_error="return"))
    if found is None:
        raise ClusterFailed(
            f"{address}: not every worker answered in {LOOK_S:.0f} s; "
            "see their logs and start them anew"
        )
    for worker, answer in sorted(found.items()):
        if isinstance(answer, BaseException):
            raise ClusterFailed(
                f"worker {worker}: cannot run this version of levelhold ({first_line(answer)}); "
                "install the same one on every machine"
            )
        identity, wrong = answer
        if difference := own.difference(identity):
            raise ClusterFailed(
                f"worker {worker}: is another program: {difference}; the bits could differ: "
                "install the same version of levelhold and its libraries on every machine"
            )
        if wrong is not None:
            raise ClusterFailed(f"worker {worker}: {wrong}")


def _look(store: Path | Place | None) -> tuple[Identity, str | None]:
    """What a worker is, and what is wrong with how it sees the store."""
    wrong = None
    if isinstance(store, Path) and not (store / "sessions").is_dir():
        wrong = (
            f"does not see {store}; every machine needs the warehouse's folder under the same path"
        )
    elif isinstance(store, Place):
        try:
            require_library()
            Bucket(store).get("lock.json")
        except LevelholdError as error:
            wrong = f"cannot read the store: {error}"
    return own_identity(), wrong


def within(seconds: float, ask: Callable[[], Given]) -> Given | None:
    """What a call gives, or None where it takes longer: the library waits for some answers without end.

    What the call raises is raised here.
    """
    found: list[Given] = []
    raised: list[BaseException] = []

    def run() -> None:
        try:
            found.append(ask())
        except BaseException as error:  # noqa: BLE001 - raised again where it is waited for
            raised.append(error)

    thread = Thread(target=run, daemon=True)
    thread.start()
    thread.join(seconds)
    if raised:
        raise raised[0]
    return found[0] if found else None


def first_line(error: BaseException) -> str:
    """What an error says in its first line, or its name."""
    return (str(error).splitlines() or [type(error).__name__])[0]
