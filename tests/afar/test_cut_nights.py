"""A night in an object store cut at every request that writes or removes: before it was done, and after."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.afar.bucket import Bucket
from pipeline.afar.heads import newest_head
from pipeline.afar.lease import hold_lease
from pipeline.afar.mirror import Mirror
from pipeline.errors import CannotWrite
from tests.afar.buckets import bucket_at, files_of, pulled
from tests.afar.stores import FaultyServer
from tests.sizes import IS_FULL

pytestmark = pytest.mark.slow
BEFORE = {"sessions/b1.parquet": b"1", "measures/d/m/b1.parquet": b"old", "runs/r1.json": b"{}"}
AFTER = {
    "sessions/b1.parquet": b"1",
    "sessions/b2.parquet": b"2",
    "samples/b2.parquet": b"samples",
    "measures/d/m/b1.parquet": b"new",
}
"""A night in small: what a mirror carries does not matter to it. One file stays, one changes, one goes."""

NOW = datetime(2026, 4, 1, tzinfo=UTC)


def night(bucket: Bucket, root: Path, files: dict[str, bytes], now: datetime) -> None:
    """Do what a night does in an object store, from taking the lock to giving it back."""
    with hold_lease(bucket, "nightly", lambda: now):
        mirror = Mirror(bucket, root)
        mirror.pull()
        for path in files_of(root).keys() - files:
            (root / path).unlink()
        pages = {"pages/index.html": files["sessions/b1.parquet"], "pages/a.css": str(now).encode()}
        for path, content in {**files, **pages}.items():
            (root / path).parent.mkdir(parents=True, exist_ok=True)
            if not (root / path).exists() or (root / path).read_bytes() != content:
                (root / path).write_bytes(content)
        mirror.publish(grace=timedelta(0))


def shown_pages(bucket: Bucket) -> int:
    """How many pages lie where the page that people open leads to."""
    pointer = bucket.get("pages/index.html")
    assert pointer is not None
    [folder] = re.findall(r'href="(.*)/index.html', pointer.decode())
    return len(bucket.list(f"pages/{folder}"))


# At full size every point is cut before and after its request was carried out, else the two in turn.
def test_a_night_cut_anywhere_is_seen_whole_or_not_at_all_and_the_next_one_finishes_it(
    server: FaultyServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with bucket_at(server, "uncut", monkeypatch) as bucket:
        night(bucket, tmp_path / "first", BEFORE, NOW)
        old = newest_head(bucket).files
        server.fault.set(0)
        night(bucket, tmp_path / "second", AFTER, NOW + timedelta(days=1))
        points, new = server.fault.count, newest_head(bucket).files
        whole = {o.key for o in bucket.list("")}
    assert points > 15
    seen = []
    for at in range(1, points + 1):
        for is_answered in (False, True) if IS_FULL else (at % 2 == 0,):
            name = f"{at}-{is_answered}"
            with bucket_at(server, name, monkeypatch) as bucket:
                night(bucket, tmp_path / name / "first", BEFORE, NOW)
                server.fault.set(at, is_answered=is_answered)
                with pytest.raises(CannotWrite):
                    night(bucket, tmp_path / name / "cut", AFTER, NOW + timedelta(days=1))
                server.fault.set(0)
                head = newest_head(bucket)
                assert head.files in (old, new)
                seen.append(head.files == new)
                assert (
                    files_of(pulled(bucket, tmp_path / name / "seen").root).keys()
                    == head.files.keys()
                )
                assert shown_pages(bucket) == 2
                night(bucket, tmp_path / name / "next", AFTER, NOW + timedelta(days=1, hours=1))
                assert newest_head(bucket).files == new
                left = {o.key for o in bucket.list("")}
                assert without_names(left) == without_names(whole)
    assert True in seen
    assert False in seen
    assert seen == sorted(seen), "what was committed stays so, however much later the cut"


def without_names(keys: set[str]) -> list[str]:
    """Keys without what differs from night to night: the numbers of heads, the folder of the pages."""
    return sorted(re.sub(r"(heads|pages)/\d{10}[^/]*", r"\1/_", key) for key in keys)
