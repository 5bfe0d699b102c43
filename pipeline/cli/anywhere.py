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

IN_BUCKETS: Final = READS | CHANGES | ADDS

LOOKS_AT_ALL: Final = frozenset({"check", "backup", "forget", "compact"})
"""What reads every file of a store; all others fetch samples only when they read them."""

KEEPS: Final = frozenset({"nightly", "score"})
"""What publishes, when it fails, what it had done till then, as it stays in a folder."""

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

    if name not in IN_BUCKETS:
        # The option --cache would promise what is refused.
        return on_any_warehouse
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
    if name not in IN_BUCKETS:
        raise UsageError(f"levelhold {name} works on a warehouse in a folder only, not on s3://...")
    from pipeline.afar.folder import PAGES
    from pipeline.afar.lease import hold_lease, refuse_held
    from pipeline.store.warehouse import Warehouse

    is_quiet = bool(given.get("is_quiet") or given.get("is_json"))
    with ExitStack() as stack:
        mirror = stack.enter_context(_mirror_of(given["warehouse"], cache))
        if given.get("shard"):
            refuse_held(mirror.bucket, _now)
        elif name in CHANGES:
            stack.enter_context(hold_lease(mirror.bucket, name, _now))
        head = mirror.pull(with_samples=name in LOOKS_AT_ALL)
        if head.number == 0 and name not in ("nightly", "ingest"):
            raise UsageError(f"{mirror.bucket.place.address}: there is no warehouse yet")
        stack.enter_context(mirror.at_work())
        if name in READS:
            _sign_as_held(mirror)
        if name == "forget" and mirror.bucket.list(PAGES):
            # Pages are not fetched; that there are some is what lets them be written anew.
            (mirror.root / PAGES).mkdir()
        try:
            ended = _outcome(command, {**given, "warehouse": Warehouse(mirror.root).root})
        except Exception as error:
            if name in KEEPS:
                _keep_what_is_done(mirror, error)
            raise
        if name not in READS:
            _publish(mirror, name, is_quiet=is_quiet)
        if ended is not None:
            raise ended


def _now() -> datetime:
    return datetime.now(UTC)


def _sign_as_held(mirror: "Mirror") -> None:
    """Let a command that looks find whoever is at work, or was killed, where it does in a folder."""
    import json

    from pipeline.afar.lease import last_holder
    from pipeline.store.lock import holder_file
    from pipeline.store.warehouse import Warehouse

    held, file = last_holder(mirror.bucket), holder_file(Warehouse(mirror.root))
    file.unlink(missing_ok=True)
    if held is not None:
        file.write_text(json.dumps(held), encoding="utf-8")


def _keep_what_is_done(mirror: "Mirror", error: Exception) -> None:
    """Publish what a run had landed and measured, and its record of what it failed of.

    Nothing where there is no store yet, nor what only the holder of the folder could finish.
    """
    from pipeline.errors import LevelholdError, LockHeld
    from pipeline.store.change import is_unfinished
    from pipeline.store.warehouse import Warehouse

    store = Warehouse(mirror.root)
    is_new = mirror.head.number == 0 and not store.committed_batches()
    if isinstance(error, LockHeld) or is_new or is_unfinished(store):
        return
    try:
        mirror.publish(grace=None, with_pages=False)
    except LevelholdError as second:
        print(f"levelhold: nothing of this run is in the store: {second}", file=sys.stderr)


def _outcome(command: Command, given: dict[str, Any]) -> typer.Exit | None:
    """Run the command; the exit by which it told that some input was refused, or a fault found."""
    try:
        command(**given)
    except typer.Exit as ended:
        return ended
    return None


def _publish(mirror: "Mirror", name: str, *, is_quiet: bool) -> None:
    from pipeline.afar.mirror import GRACE
    from pipeline.errors import LevelholdError

    # Whoever is forgotten is to be in no object that is left.
    grace = {"forget": timedelta(0), "nightly": GRACE, "compact": GRACE}.get(name)
    before = mirror.head.number
    try:
        head = mirror.publish(grace=grace)
    except LevelholdError as error:
        if name == "export":
            raise type(error)(
                f"{error}; the export that was written is on no record: remove it, do not hand it out"
            ) from error
        raise
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
