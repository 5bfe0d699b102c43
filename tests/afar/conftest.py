"""The object store on loopback that a module's tests share."""

from collections.abc import Iterator

import pytest

from tests.afar.stores import FaultyServer, object_store


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FaultyServer]:
    with object_store(tmp_path_factory.mktemp("server")) as found:
        yield found
