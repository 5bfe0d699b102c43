"""Commands on a warehouse in an object store: on a folder that is pulled before and published after.

The commands themselves know of folders only; each is wrapped here once, where it is registered.
"""

import functools
import inspect
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from pipeline.errors import UsageError

if TYPE_CHECKING:
    from pipeline.afar.mirror import Mirror

Command = Callable[..., None]

READS: Final = frozenset({"status", "query", "explain", "chart", "check", "backup", "debrief"})
CHANGES: Final = frozenset({"nightly", "ingest", "score", "pages", "forget", "compact", "export"})
ADDS: Final = frozenset({"review", "set-aside", "withdraw", "reassign"})
"""What may be done to a warehouse in an object store; notes go beside whatever else is at work."""

Cache = Annotated[
    Path | None,
    typer.Option(
        "--cache",
        metavar="DIR",
        help="With --warehouse s3://...: keep what is fetched here, for the next command.",
    ),
]


def anywhere(command: Command) -> Command:
    """The command, whose --warehouse may also name a bucket and prefix, with the option --cache."""
    signature = inspect.signature(command)
    if "warehouse" not in signature.parameters:
        return command
    name = command.__name__.replace("_", "-")

    @functools.wraps(command)
    def on_any_warehouse(*, cache: Path | None = None, **given: Any) -> None:  # noqa: ANN401
        warehouse = given["warehouse"]
        if warehouse is None or not is_remote(warehouse):
            if cache is not None:
                raise UsageError(
                    "--cache speaks of a warehouse in an object store: s3://BUCKET/PREFIX"
                )
            command(**given)
            return
        _run_on_mirror(command, name, cache, given)

    more = inspect.Parameter(
        "cache", inspect.Parameter.KEYWORD_ONLY, default=None, annotation=Cache
    )
    kept = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in signature.parameters.values()]
    on_any_warehouse.__signature__ = signature.replace(parameters=[*kept, more])  # type: ignore[attr-defined]
    on_any_warehouse.__annotations__ = {**command.__annotations__, "cache": Cache}
    return on_any_warehouse


def is_remote(warehouse: Path) -> bool:
    """Whether this path was written as s3://...: a path keeps one slash of the two."""
    return warehouse.parts[:1] == ("s3:",)


def _run_on_mirror(command: Command, name: str, cache: Path | None, given: dict[str, Any]) -> None:
    if name not in READS | CHANGES | ADDS:
        raise UsageError(f"levelhold {name} works on a warehouse in a folder only, not on s3://...")
    from pipeline.afar.lease import hold_lease
    from pipeline.store.warehouse import Warehouse

    with ExitStack() as stack:
        mirror = stack.enter_context(_mirror_of(given["warehouse"], cache))
        if name in CHANGES and not given.get("shard"):
            stack.enter_context(hold_lease(mirror.bucket, name, lambda: datetime.now(UTC)))
        if mirror.pull().number == 0 and name not in ("nightly", "ingest"):
            raise UsageError(f"{mirror.bucket.place.address}: there is no warehouse yet")
        ended = _outcome(command, {**given, "warehouse": Warehouse(mirror.root).root})
        if name not in READS:
            _publish(mirror, name, is_quiet=bool(given.get("is_quiet") or given.get("is_json")))
        if ended is not None:
            raise ended


def _outcome(command: Command, given: dict[str, Any]) -> typer.Exit | None:
    """Run the command; the exit by which it told that some input was refused, or a fault found."""
    try:
        command(**given)
    except typer.Exit as ended:
        return ended
    return None


def _publish(mirror: "Mirror", name: str, *, is_quiet: bool) -> None:
    from pipeline.afar.mirror import GRACE

    # Whoever is forgotten is to be in no object that is left.
    grace = {"forget": timedelta(0), "nightly": GRACE, "compact": GRACE}.get(name)
    before = mirror.head.number
    head = mirror.publish(grace=grace)
    if head.number != before and not is_quiet:
        print(f"published: {mirror.bucket.place.address}, head {head.number}", file=sys.stderr)


@contextmanager
def _mirror_of(warehouse: Path, cache: Path | None) -> "Iterator[Mirror]":
    """The mirror of the store that a path names, in the cache or in a folder for this command alone."""
    from filelock import FileLock, Timeout

    from pipeline.afar.bucket import Bucket, place_of, require_library
    from pipeline.afar.mirror import Mirror
    from pipeline.errors import LockHeld

    require_library()
    address = "s3://" + "/".join(warehouse.parts[1:])
    endpoint = os.environ.get("AWS_ENDPOINT_URL_S3") or os.environ.get("AWS_ENDPOINT_URL")
    region = os.environ.get("AWS_REGION") or os.environ.get("AWS_DEFAULT_REGION")
    bucket = Bucket(place_of(address, endpoint, region))
    if cache is None:
        with tempfile.TemporaryDirectory(prefix="levelhold-") as folder:
            yield Mirror(bucket, Path(folder))
        return
    cache.mkdir(parents=True, exist_ok=True)
    try:
        with FileLock(cache / ".mirror.lock", timeout=0):
            yield Mirror(bucket, cache)
    except Timeout:
        raise LockHeld(f"{cache}: another command works in this cache; name another one") from None
