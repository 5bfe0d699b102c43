"""Encrypted connections, by certificates of the test's own: a store over https, a cluster over tls."""

from pathlib import Path

import pytest

from pipeline.afar.address import Tls
from pipeline.afar.bucket import Bucket, place_of
from pipeline.afar.cluster import cluster_at
from pipeline.errors import CannotWrite, ClusterFailed
from tests.afar.buckets import bucket_at
from tests.afar.certificates import Certificates, certificates
from tests.afar.machines import machines
from tests.afar.stores import BUCKET, object_store

pytestmark = pytest.mark.slow


def tls_of(found: Certificates) -> Tls:
    return Tls(found.authority, found.certificate, found.key)


def test_a_store_is_read_and_written_over_https_where_its_authority_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, other = certificates(tmp_path / "own"), certificates(tmp_path / "other")
    with object_store(tmp_path, own) as server:
        assert server.endpoint.startswith("https://")
        monkeypatch.setenv("AWS_CA_BUNDLE", str(own.authority))
        with bucket_at(server, "x", monkeypatch) as bucket:
            bucket.put("files/a", b"one")
            assert bucket.create("lock.json", b"two")
            assert not bucket.create("lock.json", b"three")
            assert (bucket.get("files/a"), bucket.get("lock.json")) == (b"one", b"two")
            assert [listed.key for listed in bucket.list("files")] == ["files/a"]
        monkeypatch.setenv("AWS_CA_BUNDLE", str(other.authority))
        stranger = Bucket(place_of(f"s3://{BUCKET}/x", server.endpoint, "us-east-1"))
        with pytest.raises(CannotWrite, match="could not be read"):
            stranger.get("files/a")
        with pytest.raises(CannotWrite, match="could not be written"):
            stranger.create("lock.json", b"four")


def test_a_cluster_works_over_tls_and_takes_nobody_of_another_authority(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, other = certificates(tmp_path / "own"), certificates(tmp_path / "other")
    monkeypatch.setattr("pipeline.afar.cluster.CONNECT_S", 60.0)
    with machines(tmp_path / "machines", "--protocol", "tls", *own.options()) as pair:
        assert pair.address.startswith("tls://")
        pair.add_worker()
        with cluster_at(pair.address, tls_of(own), None) as workers:
            assert list(workers.map(len, [("a", "b")])) == [2]
        monkeypatch.setattr("pipeline.afar.cluster.CONNECT_S", 3.0)
        plain = pair.address.replace("tls://", "tcp://")
        for address, tls in ((pair.address, tls_of(other)), (plain, Tls())):
            with (
                pytest.raises(ClusterFailed, match="no scheduler answers there"),
                cluster_at(address, tls, None),
            ):
                pass
