"""Measuring on a cluster: a scheduler and workers that are started by hand on loopback."""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.afar import cluster
from pipeline.afar.address import Tls
from pipeline.afar.cluster import cluster_at
from pipeline.afar.identity import own_identity
from pipeline.errors import ClusterFailed, UsageError
from pipeline.measure import measure_warehouse
from pipeline.reports import Outcome
from pipeline.settings import Settings
from tests.afar.machines import (
    Machines,
    levelhold,
    likeness,
    machines,
    measured_bytes,
    school_of,
    wait_for,
)
from tests.inboxes import School

NIGHTS = 6


@pytest.fixture(scope="module")
def serial(tmp_path_factory: pytest.TempPathFactory) -> School:
    """A school of several batches, measured one after another in this process."""
    school = school_of(tmp_path_factory.mktemp("serial"), NIGHTS)
    measure_warehouse(school.store, Settings(), workers=1)
    return school


@pytest.fixture
def pair(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Machines]:
    monkeypatch.setattr(cluster, "CONNECT_S", 60.0)
    with machines(tmp_path / "machines") as found:
        yield found


def unmeasured(serial: School, root: Path) -> School:
    school = likeness(serial, root)
    for path in sorted(school.store.measures.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    return school


@pytest.mark.slow
def test_two_workers_of_which_one_is_killed_give_the_bits_of_one_process_and_of_a_pool(
    serial: School, pair: Machines, tmp_path: Path
) -> None:
    school = unmeasured(serial, tmp_path / "cluster")
    first, _ = pair.add_worker(), pair.add_worker()
    command = levelhold(
        "score", "--warehouse", school.store.root, "--scheduler", pair.address, "--json"
    )
    wait_for(lambda: any(school.store.measures.rglob("b*.parquet")), "the first measures")
    first.send_signal(signal.SIGKILL)
    told, errors = command.communicate(timeout=100)
    assert command.returncode == 0, errors
    assert told.count(f'"{Outcome.DONE.value}"') == 2 * NIGHTS
    assert measured_bytes(school.store) == measured_bytes(serial.store)

    pool = unmeasured(serial, tmp_path / "pool")
    measure_warehouse(pool.store, Settings(), workers=2)
    assert measured_bytes(pool.store) == measured_bytes(serial.store)


def deadly(group: object) -> None:
    """What no worker survives."""
    os.kill(os.getpid(), signal.SIGKILL)


def poor(group: object) -> None:
    """What fails for a reason of the unit itself."""
    raise UsageError("the unit is poor")


@pytest.mark.slow
def test_a_unit_that_ends_every_worker_ends_the_work_with_one_sentence(
    pair: Machines, tmp_path: Path
) -> None:
    for _ in range(4):
        pair.add_worker()
    with cluster_at(pair.address, Tls(), None) as executor:
        wait_for(lambda: len(executor.workers()) == 4, "four workers")
        with pytest.raises(UsageError, match="the unit is poor"):
            list(executor.map(poor, ["2026-03-01/b1"]))
        with pytest.raises(ClusterFailed, match=r"^2026-03-01/b1: every worker that took it ended"):
            list(executor.map(deadly, ["2026-03-01/b1"]))


@pytest.mark.slow
def test_without_a_worker_left_the_work_is_given_up_in_one_sentence(
    pair: Machines,
) -> None:
    pair.add_worker()
    with cluster_at(pair.address, Tls(), None, patience_s=1.0) as executor:
        with pytest.raises(ClusterFailed, match="no worker is left"):
            list(executor.map(deadly, ["2026-03-01/b1"]))
        pair.stop()
        with pytest.raises(ClusterFailed, match=r"scheduler is gone|no worker is left"):
            list(executor.map(poor, ["2026-03-01/b1"]))


@pytest.mark.slow
def test_a_cluster_that_cannot_do_the_work_is_refused_in_one_sentence(
    serial: School, pair: Machines, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 3.0)
    with (
        pytest.raises(ClusterFailed, match="the scheduler has no worker"),
        cluster_at(pair.address, Tls(), None),
    ):
        pass
    pair.add_worker()
    monkeypatch.setattr(cluster, "CONNECT_S", 20.0)
    with (
        pytest.raises(ClusterFailed, match=r"does not see .*every machine needs the warehouse"),
        cluster_at(pair.address, Tls(), tmp_path / "nowhere"),
    ):
        pass
    other = type(own_identity())(**{**vars(own_identity()), "code": "another"})
    monkeypatch.setattr(cluster, "own_identity", lambda: other)
    with (
        pytest.raises(ClusterFailed, match=r"is another program: code .*here another"),
        cluster_at(pair.address, Tls(), serial.store.root),
    ):
        pass


def test_an_address_that_is_none_and_a_scheduler_that_is_not_there_are_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_S", 0.5)
    with (
        pytest.raises(ClusterFailed, match="no scheduler answers there"),
        cluster_at("tcp://127.0.0.1:9", Tls(), None),
    ):
        pass
    for address, tls, said in (
        ("127.0.0.1:8786", Tls(), "write tcp://HOST:PORT"),
        ("tls://127.0.0.1:8786", Tls(), "needs --tls-ca-file"),
        ("tcp://127.0.0.1:8786", Tls(tmp_path, tmp_path, tmp_path), "is not encrypted"),
    ):
        with pytest.raises(UsageError, match=said), cluster_at(address, tls, None):
            pass
