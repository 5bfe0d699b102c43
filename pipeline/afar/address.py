"""Where a cluster is, and what makes the way to it safe."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pipeline.errors import UsageError

if TYPE_CHECKING:
    from distributed import Security

_LOCAL: Final = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True)
class Tls:
    """The files of an encrypted and authenticated connection, as dask names them."""

    ca_file: Path | None = None
    cert: Path | None = None
    key: Path | None = None


def is_open(address: str) -> bool:
    """Whether what is sent there can be read and forged on the way: no TLS, and not within this machine."""
    scheme, _, rest = address.partition("://")
    return scheme == "tcp" and not rest.startswith(_LOCAL)


def distributed_library() -> Any:  # noqa: ANN401 - an optional module
    """The library of the cluster. Raises UsageError where it is not installed."""
    try:
        import distributed
    except ModuleNotFoundError as error:
        raise UsageError(f"--scheduler needs {error.name}: install levelhold[cluster]") from error
    return distributed


def require_address(address: str, tls: Tls) -> None:
    """Raises UsageError where an address is none, or does not go with the files of its connection."""
    scheme, _, rest = address.partition("://")
    if scheme not in ("tcp", "tls") or ":" not in rest:
        raise UsageError(f"--scheduler {address}: write tcp://HOST:PORT or tls://HOST:PORT")
    given = (tls.ca_file, tls.cert, tls.key)
    if scheme == "tls" and None in given:
        raise UsageError("--scheduler tls://... needs --tls-ca-file, --tls-cert and --tls-key")
    if scheme == "tcp" and any(given):
        raise UsageError(
            f"--scheduler {address}: is not encrypted; with --tls-... write tls://{rest}"
        )
    for path in given:
        if path is not None and not path.is_file():
            raise UsageError(f"{path}: there is no such file")


def security_of(tls: Tls) -> Security | None:
    """The files as the library takes them; None for a connection without."""
    if tls.ca_file is None:
        return None
    return distributed_library().Security(  # type: ignore[no-any-return]
        tls_ca_file=str(tls.ca_file),
        tls_client_cert=str(tls.cert),
        tls_client_key=str(tls.key),
        require_encryption=True,
    )
