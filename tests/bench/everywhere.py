"""One school measured on one process, a pool, a cluster, an object store and both: bits and times.

Run: python -m tests.bench.everywhere [--nights N]. All is on this machine: a scheduler and two workers on
loopback, an S3-compatible server on loopback. Workers, servers and this process are warm before the first
time is taken; the pool starts its processes within its time. Ends with 1 where any of them gives another bit.
"""

import argparse
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from pipeline.afar.address import Tls
from pipeline.afar.bucket import Bucket, place_of
from pipeline.afar.cluster import cluster_at
from pipeline.afar.errand import FromObjectStore
from pipeline.afar.mirror import Mirror
from pipeline.measure import measure_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.afar.buckets import pulled, upload
from tests.afar.machines import likeness, machines, measured_bytes, school_of, wait_for
from tests.afar.stores import BUCKET, environment, object_store
from tests.bench.machine import machine


def digest(store: Warehouse) -> str:
    """One digest of every byte that was measured."""
    found = hashlib.sha256()
    for file, content in sorted(measured_bytes(store).items()):
        found.update(file.encode() + content)
    return found.hexdigest()[:16]


def in_bucket(folder: Path, address: str, scheduler: str | None) -> Warehouse:
    """Measure a store in the object store, in this process or on the cluster, and pull what is there then."""
    bucket = Bucket(place_of(address, os.environ["AWS_ENDPOINT_URL_S3"], "us-east-1"))
    mirror = Mirror(bucket, folder / "mirror")
    mirror.pull(with_samples=False)
    store = Warehouse(mirror.root)
    with mirror.at_work():
        if scheduler is None:
            measure_warehouse(store, Settings())
        else:
            with cluster_at(scheduler, Tls(), bucket.place) as workers:
                measure_warehouse(store, Settings(), executor=FromObjectStore(workers, mirror))
    mirror.publish()
    return pulled(bucket, folder / "pulled")


def main() -> int:
    """Print a line for each place; gives the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nights", type=int, default=16)
    asked = parser.parse_args()
    print(machine())
    with (
        tempfile.TemporaryDirectory() as place_of_all,
        machines(Path(place_of_all) / "machines") as cluster,
        object_store(Path(place_of_all)) as server,
    ):
        folder = Path(place_of_all)
        os.environ.update(environment(server.target))
        cluster.add_worker()
        cluster.add_worker()
        school = school_of(folder / "school", asked.nights)
        address = f"s3://{BUCKET}"
        for name in ("alone", "both"):
            one = place_of(f"{address}/{name}", server.target, "us-east-1")
            upload(school.store, Bucket(one), folder / f"upload-{name}")
        warm = school_of(folder / "warm", 2)
        with cluster_at(cluster.address, Tls(), None) as executor:
            wait_for(lambda: len(executor.workers()) == 2, "two workers")
            measure_warehouse(
                likeness(warm, folder / "warm-too").store, Settings(), executor=executor
            )
        measure_warehouse(warm.store, Settings())

        def local(to: str, workers: int) -> Warehouse:
            store = likeness(school, folder / to).store
            measure_warehouse(store, Settings(), workers=workers)
            return store

        def on_cluster() -> Warehouse:
            store = likeness(school, folder / "cluster").store
            with cluster_at(cluster.address, Tls(), store.root) as executor:
                measure_warehouse(store, Settings(), executor=executor)
            return store

        places: dict[str, Callable[[], Warehouse]] = {
            "one process": lambda: local("serial", 1),
            "pool of 2 processes": lambda: local("pool", 2),
            "cluster of 2 workers": on_cluster,
            "object store": lambda: in_bucket(folder / "o", f"{address}/alone", None),
            "cluster and object store": lambda: in_bucket(
                folder / "b", f"{address}/both", cluster.address
            ),
        }
        digests = set()
        for place, measure in places.items():
            began = time.perf_counter()
            digests.add(found := digest(measure()))
            print(f"{place:<26} {found}  {time.perf_counter() - began:6.1f} s", flush=True)
    print("the same bits everywhere" if len(digests) == 1 else "THE BITS DIFFER")
    return len(digests) != 1


if __name__ == "__main__":
    sys.exit(main())
