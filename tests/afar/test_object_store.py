"""A warehouse in an object store: a server on loopback, faults included."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.afar.bucket import Bucket, place_of
from pipeline.afar.heads import Entry, Head, commit, head_key, newest_head
from pipeline.afar.lease import hold_lease, refuse_held
from pipeline.afar.mirror import Mirror
from pipeline.errors import LockHeld, UsageError
from pipeline.land import land_inbox
from pipeline.measure import measure_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse, audit_store
from tests.afar.buckets import command, upload
from tests.afar.machines import deliver, levelhold
from tests.afar.stores import BUCKET, KEYS, FaultyServer, environment
from tests.inboxes import NOW, ROSTER, School
from tests.stores import all_relations

pytestmark = pytest.mark.slow


@pytest.fixture
def bucket(
    server: FaultyServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Bucket]:
    for name, value in environment(server.endpoint).items():
        monkeypatch.setenv(name, value)
    server.fault.set(0)
    place = place_of(f"s3://{BUCKET}/{tmp_path.name}", server.endpoint, "us-east-1")
    yield Bucket(place)
    server.fault.set(0)


def school_with_inbox(root: Path) -> School:
    school = School(root)
    school.put("roster.csv", ROSTER)
    lines: list[str] = []
    for night in range(2):
        deliver(school, lines, night)
    return school


def run(bucket: Bucket, *arguments: str | Path) -> tuple[int, str]:
    """Run a command on the store in the bucket; its exit code and all that it said."""
    done = levelhold(*arguments, "--warehouse", bucket.place.address)
    out, errors = done.communicate(timeout=110)
    assert not any(word in out + errors for word in KEYS.values())
    return done.returncode, out + errors


def pulled(bucket: Bucket, root: Path) -> Warehouse:
    Mirror(bucket, root).pull()
    return Warehouse(root)


def test_a_night_in_a_bucket_equals_a_night_in_a_folder(bucket: Bucket, tmp_path: Path) -> None:
    school = school_with_inbox(tmp_path / "school")
    land_inbox(school.inbox, school.store, Settings(), NOW)
    measure_warehouse(school.store, Settings())
    code, said = run(bucket, "nightly", "--inbox", school.inbox, "--workers", "1")
    assert code == 0, said
    store = pulled(bucket, tmp_path / "pulled")
    assert without_batch(all_relations(store)) == without_batch(all_relations(school.store))
    assert audit_store(store) == []
    assert bucket.get("pages/index.html") is not None
    code, said = run(bucket, "restore", tmp_path / "x")
    assert code == 2
    assert "works on a warehouse in a folder only" in said


def without_batch(relations: dict[str, list[tuple[object, ...]]]) -> dict[str, list[str]]:
    """The rows without the names of batches, which tell when a night was."""
    import re

    return {
        name: sorted(re.sub(r"b\d{8}T\d{6}Z-[0-9a-f]{6}", "b", repr(row)) for row in rows)
        for name, rows in relations.items()
    }


def test_a_command_killed_at_its_commit_leaves_the_store_as_it_was(
    bucket: Bucket, server: FaultyServer, tmp_path: Path
) -> None:
    school = school_with_inbox(tmp_path / "school")
    command = levelhold("ingest", "--inbox", school.inbox, "--warehouse", bucket.place.address)
    server.fault.set(5, command.pid)
    command.communicate(timeout=60)
    assert command.returncode == -9
    server.fault.set(0)
    assert newest_head(bucket).number == 0
    code, said = run(bucket, "ingest", "--inbox", school.inbox)
    assert code == 75, said
    assert "levelhold ingest" in said
    assert "if it was killed, its lock lapses at 20" in said
    bucket.delete(["lock.json"])
    code, said = run(bucket, "ingest", "--inbox", school.inbox)
    assert code == 0, said
    assert len(pulled(bucket, tmp_path / "p").sample_files()) == 2


def test_a_store_that_does_not_answer_is_one_sentence_without_a_secret(
    bucket: Bucket, server: FaultyServer, tmp_path: Path
) -> None:
    school = school_with_inbox(tmp_path / "school")
    server.fault.set(1)
    code, said = run(bucket, "ingest", "--inbox", school.inbox)
    assert code == 74, said
    assert "could not be written" in said
    assert len(said.splitlines()) == 1
    with pytest.raises(UsageError) as refused:
        place_of("s3://AKIAINVENTEDKEY:an-invented-secret-word@bucket/prefix")
    assert not any(word in str(refused.value) for word in KEYS.values())


def test_two_at_once_are_told_apart_by_the_lock_and_kept_apart_by_the_head(bucket: Bucket) -> None:
    now = [datetime(2026, 4, 1, tzinfo=UTC)]
    with hold_lease(bucket, "nightly", lambda: now[0], lease_s=60):
        second = hold_lease(bucket, "score", lambda: now[0])
        with pytest.raises(LockHeld, match=r"lapses at 2026-04-01 00:01:00 UTC"):
            refuse_held(bucket, lambda: now[0])
        with pytest.raises(LockHeld, match=r"`levelhold nightly` .process"), second:
            pass
        now[0] += timedelta(seconds=61)
        with hold_lease(bucket, "score", lambda: now[0]):
            pass
    one = {"sessions/b1.parquet": Entry("a" * 64, 1), "runs/r1.json": Entry("b" * 64, 1)}
    other = {"sessions/b2.parquet": Entry("c" * 64, 1)}
    note = {"reviews/n1.parquet": Entry("d" * 64, 1)}
    base = Head()
    assert commit(bucket, base, one, frozenset()).number == 1
    with pytest.raises(LockHeld, match="another run changed this warehouse"):
        commit(bucket, base, other, frozenset())
    joined = commit(bucket, base, note, frozenset())
    assert joined.number == 2
    assert newest_head(bucket).files == {**one, **note}
    bucket.delete([head_key(1)])
    with pytest.raises(LockHeld):
        commit(bucket, base, other, frozenset())
    assert newest_head(bucket) == joined


def test_a_night_that_fails_keeps_what_it_landed_and_leaves_its_record(
    bucket: Bucket, tmp_path: Path
) -> None:
    school = school_with_inbox(tmp_path / "school")
    land_inbox(school.inbox, school.store, Settings(), NOW)
    upload(school.store, bucket, tmp_path / "upload")
    spoiled = bucket.list("files/samples")[0].key
    whole = bucket.get(spoiled)
    assert whole is not None
    bucket.put(spoiled, b"nothing of the kind")
    deliver(school, [], 2)
    night = ("nightly", "--inbox", school.inbox, "--workers", "1", "--warehouse")
    failed = command(*night, bucket.place.address)
    assert failed.code == 5, failed
    assert "its object is not what was put there" in failed.errors
    assert len([p for p in newest_head(bucket).files if p.startswith("sessions/b")]) == 4
    bucket.put(spoiled, whole)
    with hold_lease(bucket, "score", lambda: datetime.now(UTC)):
        told = command("status", "--warehouse", bucket.place.address)
        assert "failed: the night of" in told.out
        assert "has not ended" in told.out
        assert command(*night, bucket.place.address).code == 75
    assert command(*night, bucket.place.address).code == 0
    told = command("status", "--warehouse", bucket.place.address)
    assert "failed: the night of" not in told.out
    assert "has not ended" not in told.out
