"""A cluster whose workers fetch from an object store and put there: servers and workers on loopback."""

import os
import signal
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from pipeline.afar.address import Tls
from pipeline.afar.bucket import Bucket, place_of
from pipeline.afar.cluster import cluster_at
from pipeline.afar.errand import FromObjectStore
from pipeline.afar.folder import read_holding
from pipeline.afar.mirror import Mirror
from pipeline.errors import CannotWrite, ClusterFailed, StoreDamaged
from pipeline.land import land_inbox
from pipeline.measure import measure_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.afar.buckets import bucket_at, pulled, upload
from tests.afar.machines import (
    Machines,
    deliver,
    levelhold,
    likeness,
    machines,
    measured_bytes,
    school_of,
    wait_for,
)
from tests.afar.stores import BUCKET, FaultyServer, Silence
from tests.inboxes import NOW, School

pytestmark = pytest.mark.slow
NIGHTS = 3


@pytest.fixture
def bucket(
    server: FaultyServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Bucket]:
    with bucket_at(server, tmp_path.name, monkeypatch) as found:
        yield found


@pytest.fixture
def pair(tmp_path: Path, bucket: Bucket, monkeypatch: pytest.MonkeyPatch) -> Iterator[Machines]:
    monkeypatch.setattr("pipeline.afar.cluster.CONNECT_S", 60.0)
    with machines(tmp_path / "machines") as found:
        yield found


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> School:
    """A school of several batches, none of them measured."""
    return school_of(tmp_path_factory.mktemp("school"), NIGHTS)


def test_workers_of_which_one_is_killed_give_the_bits_of_one_process(
    school: School, bucket: Bucket, pair: Machines, tmp_path: Path
) -> None:
    alone = likeness(school, tmp_path / "alone")
    measure_warehouse(alone.store, Settings())
    upload(school.store, bucket, tmp_path / "upload")
    first, _ = pair.add_worker(), pair.add_worker()
    address = bucket.place.address
    work = levelhold("score", "--warehouse", address, "--scheduler", pair.address, "--json")
    wait_for(lambda: bool(bucket.list("files/measures")), "the first measures")
    first.send_signal(signal.SIGKILL)
    told, errors = work.communicate(timeout=110)
    assert work.returncode == 0, errors
    assert told.count('"done"') == 2 * NIGHTS
    assert measured_bytes(pulled(bucket, tmp_path / "pulled")) == measured_bytes(alone.store)


def test_what_lands_in_a_night_is_measured_elsewhere_and_old_samples_stay_in_the_store(
    school: School, bucket: Bucket, pair: Machines, tmp_path: Path
) -> None:
    alone = likeness(school, tmp_path / "alone")
    upload(alone.store, bucket, tmp_path / "upload")
    night = NOW + timedelta(days=NIGHTS)
    deliver(alone, [], NIGHTS)
    pair.add_worker()
    mirror = Mirror(bucket, tmp_path / "client")
    mirror.pull(with_samples=False)
    store = Warehouse(mirror.root)
    with mirror.at_work(), cluster_at(pair.address, Tls(), bucket.place) as workers:
        land_inbox(alone.inbox, store, Settings(), night)
        measure_warehouse(store, Settings(), executor=FromObjectStore(workers, mirror))
    before = bucket.list("files/measures")
    mirror.publish(grace=None)
    assert bucket.list("files/measures") == before, "what workers put is put once"
    land_inbox(alone.inbox, alone.store, Settings(), night)
    measure_warehouse(alone.store, Settings())
    assert measured_bytes(pulled(bucket, tmp_path / "pulled")) == measured_bytes(alone.store)
    assert len(read_holding(mirror.root, bucket.place.address).absent) == NIGHTS


def test_an_object_that_is_not_what_was_put_ends_the_work_in_one_sentence(
    school: School, bucket: Bucket, pair: Machines, tmp_path: Path
) -> None:
    upload(school.store, bucket, tmp_path / "upload")
    pair.add_worker()
    spoiled = bucket.list("files/samples")[0].key
    bucket.put(spoiled, b"nothing of the kind")
    mirror = Mirror(bucket, tmp_path / "client")
    mirror.pull(with_samples=False)
    with (
        mirror.at_work(),
        cluster_at(pair.address, Tls(), bucket.place) as workers,
        pytest.raises(StoreDamaged, match=r"^samples/.*its object is not what was put there"),
    ):
        measure_warehouse(
            Warehouse(mirror.root), Settings(), executor=FromObjectStore(workers, mirror)
        )


def test_a_worker_that_cannot_read_the_store_is_refused_by_name(
    bucket: Bucket, pair: Machines
) -> None:
    pair.add_worker()
    closed = place_of(f"s3://{BUCKET}/x", "http://127.0.0.1:9", "us-east-1")
    with (
        pytest.raises(ClusterFailed, match=r"^worker tcp://.*: cannot read the store: s3://"),
        cluster_at(pair.address, Tls(), closed),
    ):
        pass


def test_a_scheduler_that_stands_still_ends_the_work_in_one_sentence(pair: Machines) -> None:
    pair.add_worker()
    with cluster_at(pair.address, Tls(), None, patience_s=2.0) as workers:
        pair.freeze_scheduler()
        with pytest.raises(ClusterFailed, match="the scheduler does not answer"):
            list(workers.map(len, ["2026-03-01/b1"]))


def slow(group: object) -> int:
    """What takes longer than anybody waits."""
    import time

    time.sleep(600)
    return 0


def test_a_unit_that_takes_too_long_ends_the_work_in_one_sentence(pair: Machines) -> None:
    pair.add_worker()
    with (
        cluster_at(pair.address, Tls(), None, progress_s=2.0) as workers,
        pytest.raises(ClusterFailed, match="no worker gave it back"),
    ):
        list(workers.map(slow, ["2026-03-01/b1"]))


def where(group: object) -> int:
    """The process that a unit was done in; the first one to take it stands still from then on."""
    flag = Path(str(group))
    if not flag.exists():
        flag.write_text(str(os.getpid()))
        os.kill(os.getpid(), signal.SIGSTOP)
    return os.getpid()


def test_the_unit_of_a_worker_that_stands_still_goes_to_another_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.afar.cluster.CONNECT_S", 60.0)
    monkeypatch.setenv("DASK_DISTRIBUTED__SCHEDULER__WORKER_TTL", "15s")
    with machines(tmp_path / "machines") as pair:
        pair.add_worker()
        pair.add_worker()
        with cluster_at(pair.address, Tls(), None) as workers:
            wait_for(lambda: len(workers.workers()) == 2, "two workers")
            [done_by] = workers.map(where, [str(tmp_path / "flag")])
    assert str(done_by) != (tmp_path / "flag").read_text()


def test_a_store_that_takes_requests_and_never_answers_is_given_up(
    bucket: Bucket, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.afar.bucket.ANSWER_S", 1.0)
    with Silence() as silence:
        mute = Bucket(place_of(f"s3://{BUCKET}/x", silence.endpoint, "us-east-1"))
        with pytest.raises(CannotWrite, match="could not be read"):
            mute.get("lock.json")
        with pytest.raises(CannotWrite, match="could not be written"):
            mute.create("lock.json", b"{}")
        with pytest.raises(CannotWrite, match="could not be written"):
            mute.put("files/x", b"{}")
