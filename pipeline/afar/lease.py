"""The lock of a store in an object store: an object that one run creates, renews, and removes.

It only spares work: what keeps a store whole is that one run alone can create the next head. So a lock
whose run is gone may be taken over by a clock that is not quite right.
"""

from __future__ import annotations

import json
import os
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from threading import Event, Thread
from typing import Any, Final

from pipeline.afar.bucket import Bucket
from pipeline.errors import CannotWrite, LockHeld

KEY: Final = "lock.json"
LEASE_S: Final = 300.0
"""Seconds that a lock holds after its last renewal: how long a killed run keeps others waiting."""

RENEWALS: Final = 5
"""How often a lock is renewed within that time, so that a few renewals may fail."""

Clock = Callable[[], datetime]


@contextmanager
def hold_lease(
    bucket: Bucket, purpose: str, clock: Clock, lease_s: float = LEASE_S
) -> Iterator[None]:
    """Hold the store's lock while the block runs. Raises LockHeld where another does, with its name."""
    since = clock()
    owner = {
        "purpose": purpose,
        "pid": os.getpid(),
        "host": socket.gethostname(),
        "since": since.isoformat(timespec="microseconds"),
    }
    _take(bucket, owner, clock, lease_s)
    ended = Event()
    renewal = Thread(target=_renew, args=(bucket, owner, clock, lease_s, ended), daemon=True)
    renewal.start()
    try:
        yield
    except BaseException:
        # What ended the block is what is to be told; a lock that stays lapses.
        with suppress(CannotWrite):
            _give_back(bucket, owner, renewal, ended)
        raise
    _give_back(bucket, owner, renewal, ended)


def _give_back(bucket: Bucket, owner: dict[str, Any], renewal: Thread, ended: Event) -> None:
    ended.set()
    renewal.join()
    if _is_mine(_read(bucket), owner):
        bucket.delete([KEY])


def last_holder(bucket: Bucket) -> dict[str, Any] | None:
    """Who holds the store's lock, or held it when killed, and until when; None where nobody does."""
    return _read(bucket)


def refuse_held(bucket: Bucket, clock: Clock) -> None:
    """Raises LockHeld where another run holds the store's lock; takes none."""
    held = last_holder(bucket)
    if held is not None and _is_valid(held, clock):
        raise LockHeld(_who_holds(bucket, held))


def _is_valid(held: dict[str, Any], clock: Clock) -> bool:
    return datetime.fromisoformat(held["until"]) > clock()


def _take(bucket: Bucket, owner: dict[str, Any], clock: Clock, lease_s: float) -> None:
    for _ in range(2):
        if bucket.create(KEY, _content(owner, clock, lease_s)):
            return
        held = _read(bucket)
        if held is not None and _is_valid(held, clock):
            raise LockHeld(_who_holds(bucket, held))
        bucket.delete([KEY])
    raise LockHeld(_who_holds(bucket, _read(bucket)))


def _renew(
    bucket: Bucket, owner: dict[str, Any], clock: Clock, lease_s: float, ended: Event
) -> None:
    while not ended.wait(lease_s / RENEWALS):
        try:
            if not _is_mine(_read(bucket), owner):
                return
            bucket.put(KEY, _content(owner, clock, lease_s), "application/json")
        except CannotWrite:
            continue  # The lease may run out; the commit finds out what that meant.


def _content(owner: dict[str, Any], clock: Clock, lease_s: float) -> bytes:
    until = clock() + timedelta(seconds=lease_s)
    return json.dumps({**owner, "until": until.isoformat()}).encode()


def _read(bucket: Bucket) -> dict[str, Any] | None:
    content = bucket.get(KEY)
    return None if content is None else dict(json.loads(content))


def _is_mine(held: dict[str, Any] | None, owner: dict[str, Any]) -> bool:
    return held is not None and {name: held.get(name) for name in owner} == owner


def _who_holds(bucket: Bucket, held: dict[str, Any] | None) -> str:
    who, lapse = "another run", ""
    if held is not None:
        process = f"process {held['pid']} on {held['host']}, since {held['since']}"
        who = f"`levelhold {held['purpose']}` ({process})"
        until = f"{datetime.fromisoformat(held['until']):%Y-%m-%d %H:%M:%S} UTC"
        lapse = f"; if it was killed, its lock lapses at {until}"
    return (
        f"{bucket.place.address}: {who} is at work on this warehouse; "
        f"nothing was changed, try again when it has ended{lapse}"
    )
