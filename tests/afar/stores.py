"""An S3-compatible server on loopback, and a proxy before it that fails, or ends the command, on demand."""

import contextlib
import os
import signal
import socket
import ssl
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Self

from tests.afar.certificates import Certificates
from tests.afar.machines import begun, wait_for

KEYS = {"AWS_ACCESS_KEY_ID": "AKIAINVENTEDKEY", "AWS_SECRET_ACCESS_KEY": "an-invented-secret-word"}
BUCKET = "tarn-hollow"


class Fault:
    """What befalls the n-th request of a kind: counted from 1; 0 is none."""

    def __init__(self) -> None:
        self.count = 0
        self.strike_at = 0
        self.is_answered = False
        self.victim: int | None = None

    def set(self, at: int, victim: int | None = None, *, is_answered: bool = False) -> None:
        """Let the `at`-th writing request from now on fail, before or after it was carried out."""
        self.count, self.strike_at, self.victim, self.is_answered = 0, at, victim, is_answered


class _Relay(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def _relay(self) -> None:
        server: FaultyServer = self.server  # type: ignore[assignment]
        fault, body = server.fault, self._body()
        is_struck = False
        if self.command in ("PUT", "POST", "DELETE"):
            with server.counting:
                fault.count += 1
                is_struck = 0 < fault.strike_at <= fault.count
        if is_struck and not fault.is_answered:
            self._end(fault)
            return
        dropped = ("transfer-encoding", "content-length", "expect", "connection")
        headers_on = {n: v for n, v in self.headers.items() if n.lower() not in dropped}
        # Without a kind of its own, urllib would name one that the server takes for a form.
        headers_on.setdefault("Content-Type", "application/octet-stream")
        data = body if self.command in ("PUT", "POST") else None
        request = urllib.request.Request(
            f"{server.target}{self.path}", data, headers_on, method=self.command
        )
        try:
            with urllib.request.urlopen(request) as answer:
                status, headers, content = answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as error:
            status, headers, content = error.code, error.headers, error.read()
        if is_struck:
            self._end(fault)
            return
        if self.command == "GET":
            server.fetched.append((self.path.partition("?")[0], len(content)))
        self.send_response(status)
        for name, value in headers.items():
            if name.lower() not in ("transfer-encoding", "connection", "date", "server"):
                self.send_header(name, value)
        if "Content-Length" not in headers:
            self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(content)

    def _body(self) -> bytes:
        """All that was sent, in one piece."""
        if self.headers.get("Transfer-Encoding", "").lower() != "chunked":
            return self.rfile.read(int(self.headers.get("Content-Length") or 0))
        body = b""
        while size := int(self.rfile.readline().partition(b";")[0], 16):
            body += self.rfile.read(size)
            self.rfile.readline()
        while self.rfile.readline().strip():
            pass
        return body

    def _end(self, fault: Fault) -> None:
        if fault.victim is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(fault.victim, signal.SIGKILL)
        self.close_connection = True
        if fault.victim is None:
            self.send_response(403)
            content = b"<Error><Code>AccessDenied</Code><Message>an-invented-secret-word</Message></Error>"
            self.send_header("Content-Length", str(len(content)))
            self.send_header("Connection", "close")
            self.end_headers()
            self.wfile.write(content)

    do_GET = do_PUT = do_POST = do_DELETE = do_HEAD = _relay  # noqa: N815 - the library's names

    def log_message(self, *_: object) -> None:
        """Say nothing."""


class FaultyServer(ThreadingHTTPServer):
    """The proxy; `fetched` tells the path and length of every answer to a GET."""

    daemon_threads = True
    request_queue_size = 128

    def __init__(self, target: str) -> None:
        super().__init__(("127.0.0.1", 0), _Relay)
        self.target = target
        self.scheme = "http"
        self.fault = Fault()
        self.counting = threading.Lock()
        self.fetched: list[tuple[str, int]] = []

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing of clients that closed a connection early."""

    def encrypt(self, tls: Certificates) -> None:
        """Speak https from now on."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(tls.certificate, tls.key)
        self.socket = context.wrap_socket(self.socket, server_side=True)
        self.scheme = "https"

    @property
    def endpoint(self) -> str:
        return f"{self.scheme}://127.0.0.1:{self.server_address[1]}"


class Silence:
    """A server that takes connections and says nothing."""

    def __init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.endpoint = f"http://127.0.0.1:{self._socket.getsockname()[1]}"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._socket.close()


def environment(endpoint: str) -> dict[str, str]:
    """What a command needs to find the server."""
    return {
        **KEYS,
        "AWS_ENDPOINT_URL_S3": endpoint,
        "AWS_REGION": "us-east-1",
        "AWS_EC2_METADATA_DISABLED": "true",
    }


@contextlib.contextmanager
def object_store(folder: Path, tls: Certificates | None = None) -> Iterator[FaultyServer]:
    """A server with one empty bucket, behind its proxy, which speaks https where certificates are given."""
    told = folder / "port"
    code = (
        "import os, sys, time, pathlib\n"
        # It logs every request: into a pipe that nobody reads it would stand still once that is full.
        "sys.stdout = sys.stderr = open(os.devnull, 'w')\n"
        "from moto.server import ThreadedMotoServer\n"
        "server = ThreadedMotoServer(ip_address='127.0.0.1', port=0, verbose=False)\n"
        "server.start()\n"
        "pathlib.Path(sys.argv[1]).write_text(str(server.get_host_and_port()[1]))\n"
        "time.sleep(3600)\n"
    )
    process = begun("-c", code, told)
    try:
        wait_for(lambda: told.exists() and bool(told.read_text()), "the object store")
        target = f"http://127.0.0.1:{told.read_text()}"
        make = urllib.request.Request(f"{target}/{BUCKET}", method="PUT")
        urllib.request.urlopen(make).close()
        proxy = FaultyServer(target)
        if tls is not None:
            proxy.encrypt(tls)
        threading.Thread(target=proxy.serve_forever, daemon=True).start()
        try:
            yield proxy
        finally:
            proxy.shutdown()
            proxy.server_close()
    finally:
        process.kill()
        process.communicate()
