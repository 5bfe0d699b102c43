"""One prefix of a bucket in an S3-compatible object store: a few verbs, and one sentence where one fails.

Everything goes through pyarrow's file system but one verb that it lacks: creating an object only where
there is none (PutObject with If-None-Match), for which botocore is used. Each finds the credentials in
the usual places by itself; none is read, kept or told here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any, Final, TypeVar

from pyarrow import fs

from pipeline.errors import CannotWrite, UsageError

SCHEME: Final = "s3://"
AT_ONCE: Final = 8
"""Objects that are fetched or put side by side."""

CONNECT_S: Final = 10.0
ANSWER_S: Final = 60.0
"""Seconds that a service may take to be reached, and to answer."""

_CODE: Final = re.compile(r"AWS Error ([A-Z_]+)|\(HTTP status (\d+)\)|HTTP code (\d+)")
Given = TypeVar("Given")


@dataclass(frozen=True)
class Place:
    """Where a store is: bucket and prefix, and the service if it is not the provider's own."""

    bucket: str
    prefix: str
    endpoint: str | None = None
    region: str | None = None

    @property
    def address(self) -> str:
        """How a person writes it."""
        return f"{SCHEME}{self.bucket}/{self.prefix}"


@dataclass(frozen=True)
class Listed:
    """One object below the prefix: its key there, and when it was put."""

    key: str
    put_at: datetime


def place_of(address: str, endpoint: str | None = None, region: str | None = None) -> Place:
    """The place that an address names. Raises UsageError where it names none; it is not repeated then."""
    bucket, _, prefix = address.removeprefix(SCHEME).strip("/").partition("/")
    if not re.fullmatch(r"[a-z0-9][a-z0-9.-]{1,61}[a-z0-9]", bucket) or not prefix:
        raise UsageError(
            "--warehouse s3://...: write s3://BUCKET/PREFIX; keys do not belong in it: put them into "
            "the environment or the file of credentials that the service's tools read"
        )
    return Place(bucket, prefix, endpoint, region)


class Bucket:
    """The objects below one place. Every key is relative to its prefix.

    Each verb raises CannotWrite, in one sentence, where the store does not answer or refuses.
    """

    def __init__(self, place: Place) -> None:
        self.place = place
        self._root = f"{place.bucket}/{place.prefix}"
        options: dict[str, Any] = {
            "allow_delayed_open": True,
            "background_writes": False,
            # The library's own 3 s and 1 s give up on a busy service.
            "request_timeout": ANSWER_S,
            "connect_timeout": CONNECT_S,
            "tls_ca_file_path": _configured("ca_bundle"),
        }
        if place.endpoint is not None:
            scheme, _, host = place.endpoint.partition("://")
            options |= {"scheme": scheme, "endpoint_override": host.rstrip("/")}
        with self._told("opened", ""):
            self._files = fs.S3FileSystem(region=place.region or _region(), **options)

    def list(self, folder: str) -> list[Listed]:
        """Every object below a folder of the prefix."""
        selector = fs.FileSelector(f"{self._root}/{folder}", recursive=True, allow_not_found=True)
        with self._told("listed", folder):
            found = self._files.get_file_info(selector)
        return [
            Listed(info.path.removeprefix(f"{self._root}/"), info.mtime)
            for info in found
            if info.type == fs.FileType.File
        ]

    def get(self, key: str) -> bytes | None:
        """The bytes of an object; None where there is none."""
        path = f"{self._root}/{key}"
        try:
            with self._told("read", key), self._files.open_input_stream(path) as stream:
                return bytes(stream.read())
        except FileNotFoundError:
            return None

    def put(self, key: str, content: bytes, kind: str = "application/octet-stream") -> None:
        """Put an object, whole or not at all, in the place of one that is there."""
        path = f"{self._root}/{key}"
        with (
            self._told("written", key),
            self._files.open_output_stream(path, metadata={"Content-Type": kind}) as stream,
        ):
            stream.write(content)

    def create(self, key: str, content: bytes) -> bool:
        """Put an object where there is none; whether it was put. Of several who try, one succeeds."""
        client = self._conditional
        full = f"{self.place.prefix}/{key}"
        with self._told("written", key):
            try:
                client.put_object(Bucket=self.place.bucket, Key=full, Body=content, IfNoneMatch="*")
            except client.exceptions.ClientError as error:
                if error.response["ResponseMetadata"]["HTTPStatusCode"] in (409, 412):
                    return False
                raise
        return True

    def delete(self, keys: Iterable[str]) -> None:
        """Remove objects; those that are gone already are no fault."""
        for key in keys:
            try:
                with self._told("removed", key):
                    self._files.delete_file(f"{self._root}/{key}")
            except FileNotFoundError:
                continue

    @cached_property
    def _conditional(self) -> Any:  # noqa: ANN401 - a client that botocore makes at run time
        import botocore.session
        from botocore.config import Config

        return botocore.session.get_session().create_client(
            "s3",
            region_name=self.place.region or _region(),
            endpoint_url=self.place.endpoint,
            config=Config(
                connect_timeout=CONNECT_S,
                read_timeout=ANSWER_S,
                retries={"total_max_attempts": 3},
                s3={"addressing_style": "auto"},
            ),
        )

    @contextmanager
    def _told(self, verb: str, key: str) -> Iterator[None]:
        """Turn what the libraries raise into one sentence that holds no word of theirs but the code."""
        from botocore.exceptions import BotoCoreError, ClientError

        try:
            yield
        except FileNotFoundError:
            raise
        except (OSError, BotoCoreError, ClientError) as error:
            raise CannotWrite(
                f"{self.place.address}: {key or 'the store'} could not be {verb} ({_code(error)}); what was "
                "there is whole and kept: mend service, network or credentials, then run again"
            ) from None


def require_library() -> None:
    """Raises UsageError where what an object store needs is not installed."""
    try:
        import botocore  # noqa: F401 - only whether it is there
    except ModuleNotFoundError as error:
        raise UsageError(
            f"a warehouse in an object store needs {error.name}: install levelhold[objects]"
        ) from error


def side_by_side(work: Callable[[Given], object], many: Iterable[Given]) -> None:
    """Do work for many, some at a time; the first error ends it and is raised."""
    with ThreadPoolExecutor(AT_ONCE) as threads:
        for _ in threads.map(work, many):
            pass


def _region() -> str:
    return _configured("region") or "us-east-1"


def _configured(name: str) -> str | None:
    """What environment or file of settings, where the service's tools find them, say of one thing."""
    import botocore.session

    found = botocore.session.get_session().get_config_variable(name)
    return None if found is None else str(found)


def _code(error: BaseException) -> str:
    """The service's own word for what is wrong; its sentences may repeat what nobody should read."""
    response = getattr(error, "response", None)
    if response:
        return str(response.get("Error", {}).get("Code", "refused"))
    found = _CODE.search(str(error))
    if found is None:
        return type(error).__name__
    return next(group for group in found.groups() if group)
