"""A bucket for a test, and commands on it, run in this process."""

import contextlib
import io
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline.afar.bucket import Bucket, place_of
from pipeline.afar.mirror import Mirror
from pipeline.cli import main
from pipeline.store import Warehouse
from tests.afar.stores import BUCKET, KEYS, FaultyServer, environment


@contextlib.contextmanager
def bucket_at(
    server: FaultyServer, name: str, patch: pytest.MonkeyPatch, *, is_direct: bool = False
) -> Iterator[Bucket]:
    """A prefix of the server's bucket, through the proxy, with no fault in it; commands find the server."""
    endpoint = server.target if is_direct else server.endpoint
    for variable, value in environment(endpoint).items():
        patch.setenv(variable, value)
    server.fault.set(0)
    yield Bucket(place_of(f"s3://{BUCKET}/{name}", endpoint, "us-east-1"))
    server.fault.set(0)


@dataclass(frozen=True)
class Said:
    """What a command left: its exit code, and what it wrote to each stream."""

    code: int
    out: str
    errors: str


def command(*arguments: str | Path) -> Said:
    """Run a command in this process, as `levelhold` would run it; it never tells a secret."""
    out, errors = io.TextIOWrapper(io.BytesIO()), io.TextIOWrapper(io.BytesIO())
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        try:
            main([str(argument) for argument in arguments])
            code = 0
        except SystemExit as ended:
            code = int(ended.code or 0)
    told = []
    for stream in (out, errors):
        stream.flush()
        told.append(stream.buffer.getvalue().decode())
    assert not any(word in text for word in KEYS.values() for text in told)
    sys.stdout.flush()
    return Said(code, *told)


def upload(store: Warehouse, bucket: Bucket, folder: Path) -> None:
    """Make the store in a bucket the one in a folder."""
    mirror = Mirror(bucket, folder)
    mirror.pull()
    shutil.copytree(store.root, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns(".*"))
    mirror.publish(grace=None)


def pulled(bucket: Bucket, root: Path) -> Warehouse:
    """The store in a bucket, in a folder."""
    Mirror(bucket, root).pull()
    return Warehouse(root)


def files_of(root: Path) -> dict[str, bytes]:
    """Every file below a folder that is not hidden, by its path."""
    found = (path for path in sorted(root.rglob("*")) if path.is_file())
    paths = ((path.relative_to(root), path) for path in found)
    return {
        below.as_posix(): path.read_bytes()
        for below, path in paths
        if not any(part.startswith(".") for part in below.parts)
    }
