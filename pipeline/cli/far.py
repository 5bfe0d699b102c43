"""The options of work beyond one machine, and what they open."""

import sys
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from pipeline.errors import UsageError

Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        metavar="ADDRESS",
        help="Measure on a dask cluster: tcp://HOST:PORT, or tls://HOST:PORT with the three below.",
    ),
]
TlsCaFile = Annotated[
    Path | None,
    typer.Option("--tls-ca-file", metavar="FILE", help="Who vouches for the cluster's machines."),
]
TlsCert = Annotated[
    Path | None, typer.Option("--tls-cert", metavar="FILE", help="This machine's certificate.")
]
TlsKey = Annotated[
    Path | None, typer.Option("--tls-key", metavar="FILE", help="The key of that certificate.")
]
Share = Annotated[
    str | None,
    typer.Option(
        "--shard",
        metavar="I/N",
        help="Measure only the I-th of N shares, as one job of an array; see DEVELOPERS.md.",
    ),
]


@contextmanager
def workers_at(
    scheduler: str | None,
    tls_ca_file: Path | None,
    tls_cert: Path | None,
    tls_key: Path | None,
    root: Path,
) -> Iterator[Executor | None]:
    """The executor of a cluster, None where none is asked for."""
    if scheduler is None:
        if tls_ca_file or tls_cert or tls_key:
            raise UsageError("--tls-ca-file, --tls-cert and --tls-key speak of --scheduler")
        yield None
        return
    from pipeline.afar.address import Tls, is_open
    from pipeline.afar.cluster import cluster_at
    from pipeline.afar.errand import FromObjectStore
    from pipeline.afar.mirror import mirror_at

    if is_open(scheduler):
        print(
            f"levelhold: note: {scheduler} is neither encrypted nor authenticated: whoever reaches it can "
            "run programs on its machines; outside a closed network use tls://",
            file=sys.stderr,
        )
    mirror = mirror_at(root)
    store = root if mirror is None else mirror.bucket.place
    with cluster_at(scheduler, Tls(tls_ca_file, tls_cert, tls_key), store) as executor:
        yield executor if mirror is None else FromObjectStore(executor, mirror)
