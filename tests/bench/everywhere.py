"""The same small school measured on one process, a pool, a cluster and an object store: bits and times.

Run: python -m tests.bench.everywhere [--nights N]. All is on this machine: a scheduler and two workers on
loopback, an S3-compatible server on loopback. Ends with 1 where any of them gives another bit.
"""

import argparse
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from pipeline.afar.bucket import Bucket, place_of
from pipeline.afar.cluster import Tls, cluster_at
from pipeline.afar.mirror import Mirror
from pipeline.measure import measure_warehouse
from pipeline.settings import Settings
from pipeline.store import Warehouse
from tests.afar.machines import likeness, machines, measured_bytes, school_of
from tests.afar.stores import BUCKET, environment, object_store
from tests.bench.machine import machine
from tests.inboxes import School


def digest(store: Warehouse) -> str:
    """One digest of every byte that was measured."""
    found = hashlib.sha256()
    for file, content in sorted(measured_bytes(store).items()):
        found.update(file.encode() + content)
    return found.hexdigest()[:16]


def in_bucket(school: School, folder: Path, address: str) -> Warehouse:
    """Upload the school, measure it in the object store, and pull what is there then."""
    bucket = Bucket(place_of(address, os.environ["AWS_ENDPOINT_URL_S3"], "us-east-1"))
    first = Mirror(bucket, folder / "first")
    first.pull()
    likeness(School(school.root / "warehouse"), folder / "copy")
    for path in (folder / "copy").iterdir():
        if not path.name.startswith("."):
            path.rename(first.root / path.name)
    first.publish()
    second = Mirror(bucket, folder / "second")
    second.pull()
    measure_warehouse(Warehouse(second.root), Settings())
    second.publish()
    third = Mirror(bucket, folder / "third")
    third.pull()
    return Warehouse(third.root)


def main() -> int:
    """Print a line for each place; gives the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nights", type=int, default=6)
    asked = parser.parse_args()
    print(machine())
    with (
        tempfile.TemporaryDirectory() as name,
        machines(Path(name) / "machines") as cluster,
        object_store(Path(name)) as server,
    ):
        folder = Path(name)
        os.environ.update(environment(server.target))
        cluster.add_worker()
        cluster.add_worker()
        school = school_of(folder / "school", asked.nights)

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
            "object store": lambda: in_bucket(school, folder / "o", f"s3://{BUCKET}/alone"),
        }
        digests = set()
        for place, measure in places.items():
            began = time.perf_counter()
            digests.add(found := digest(measure()))
            print(f"{place:<24} {found}  {time.perf_counter() - began:6.1f} s", flush=True)
    print("the same bits everywhere" if len(digests) == 1 else "THE BITS DIFFER")
    return len(digests) != 1


if __name__ == "__main__":
    sys.exit(main())
