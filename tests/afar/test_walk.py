"""Every command on one small store, in a folder and in an object store: the same answers, the same files."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.afar.bucket import Bucket
from pipeline.store import Warehouse
from tests.afar.buckets import Said, bucket_at, command, files_of, pulled, upload
from tests.afar.stores import FaultyServer
from tests.stores import busy_school, kept_rows, measured

pytestmark = pytest.mark.slow
NIGHTS = 2
MANEUVER = "A1.1.01"
_VOLATILE = (
    re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d[^\"\s]*|\d{8}T\d{6}Z"),
    re.compile(r"\S*(/tmp/|warehouse)[^\s\"]*|s3://\S*"),
    re.compile(r"\br_-[0-9a-f]{6}"),
    # A folder holds its lock and pages too.
    re.compile(r"\"total_bytes\": \d+"),
    re.compile(r"[\d.]+ GB free|\"free_bytes\": \d+|\"took_s\": [\d.e-]+|[\d.]+ s\b"),
)
"""What differs from one run to another: moments, places, random codes, sizes of disks, times taken."""


class Pair:
    """One store twice: in a folder and in a bucket."""

    def __init__(self, folder: Path, bucket: Bucket, server: FaultyServer, scratch: Path) -> None:
        self.folder, self.bucket, self.server, self.scratch = folder, bucket, server, scratch
        self.samples_fetched = 0

    def alone(self, name: str, *arguments: str | Path) -> Said:
        """Run a command on the one in the bucket; `samples_fetched` counts what it fetched of samples."""
        self.server.fetched.clear()
        said = command(name, *arguments, "--warehouse", self.bucket.place.address)
        self.samples_fetched = sum("/files/samples/" in path for path, _ in self.server.fetched)
        return said

    def both(self, name: str, *arguments: str | Path) -> tuple[Said, Said]:
        """Run a command on both; `{out}` in an argument is another folder for each."""
        here, there = (
            [str(argument).replace("{out}", str(self.scratch / which)) for argument in arguments]
            for which in ("folder", "bucket")
        )
        return command(name, *here, "--warehouse", self.folder), self.alone(name, *there)

    def same(self, name: str, *arguments: str | Path) -> Said:
        """Run a command on both, which must say the same but for moments and places."""
        here, there = self.both(name, *arguments)
        assert there.code == here.code, there
        assert bare(there.out) == bare(here.out)
        return there

    def files(self, below: str) -> tuple[dict[str, bytes], dict[str, bytes]]:
        """What both wrote below a folder beside the store."""
        return files_of(self.scratch / "folder" / below), files_of(self.scratch / "bucket" / below)


def bare(text: str) -> str:
    for volatile in _VOLATILE:
        text = volatile.sub("_", text)
    return text


@pytest.fixture
def pair(server: FaultyServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Pair]:
    school = measured(busy_school(tmp_path / "school", NIGHTS))
    with bucket_at(server, tmp_path.name, monkeypatch) as bucket:
        upload(school.store, bucket, tmp_path / "upload")
        for which in ("folder", "bucket"):
            (tmp_path / "out" / which).mkdir(parents=True)
        yield Pair(school.store.root, bucket, server, tmp_path / "out")


def test_every_command_answers_the_same_and_fetches_only_the_samples_that_it_reads(
    pair: Pair, tmp_path: Path
) -> None:
    def fetched(*asked: str | Path) -> int:
        assert pair.same(*map(str, asked)).code == 0
        return pair.samples_fetched

    figures = "SELECT * FROM altitude_hold ORDER BY ALL"
    assert fetched("query", figures, "--format", "csv") == 0
    assert fetched("query", "SELECT COUNT(*) FROM samples", "--format", "csv") == NIGHTS
    assert fetched("query", "SELECT COUNT(*) FROM stored_samples", "--format", "csv") == NIGHTS
    assert fetched("explain", MANEUVER) == 1
    assert fetched("status", "--json") == 0
    assert fetched("check") == NIGHTS
    assert fetched("score") == 0
    assert fetched("review", "TH01", "--note", "seen") == 0
    assert fetched("backup", "{out}/backup") == NIGHTS
    here, there = pair.files("backup")
    assert {n: c for n, c in there.items() if "reviews" not in n} == {
        n: c for n, c in here.items() if "reviews" not in n
    }
    assert fetched("chart", "cohort_trends", "--out", "{out}/c.svg") == 0
    assert len({path.read_bytes() for path in pair.scratch.glob("*/c.svg")}) == 1

    cached = ("--cache", tmp_path / "cache")
    for asked, wanted in ((figures, 0), ("SELECT COUNT(*) FROM samples", NIGHTS)):
        assert pair.alone("query", asked, *cached).code == 0
        assert pair.samples_fetched == wanted
        assert pair.alone("query", asked, *cached).code == 0
        assert pair.server.fetched, "the head is looked at each time"
        assert not any("/files/" in path for path, _ in pair.server.fetched)


def test_commands_that_change_a_store_leave_the_same_store(pair: Pair, tmp_path: Path) -> None:
    folder = Warehouse(pair.folder)
    assert pair.same("pages").code == 0
    [shown] = re.findall(r'href="(.*)/index.html', text_of(pair.bucket, "pages/index.html"))
    names = {o.key.removeprefix(f"pages/{shown}/") for o in pair.bucket.list(f"pages/{shown}")}
    assert names == set(files_of(folder.pages))
    assert pair.samples_fetched == NIGHTS

    (folder.root / "school.toml").write_text("[limits]\nset_hold_s = 9\n")
    pair.bucket.put("school.toml", b"[limits]\nset_hold_s = 9\n")
    for share in ("1/2", "2/2", "1/2", "2/2"):
        assert pair.same("score", "--shard", share, "--workers", "1").code == 0
    assert same_measures(pair, tmp_path / "shares")
    assert pair.same("score").code == 0
    assert pair.samples_fetched == 0

    exported = pair.same("export", "--out", "{out}/export")
    here, there = pair.files("export")
    assert there.keys() == here.keys(), exported
    assert pair.samples_fetched == 0

    assert pair.same("compact", "--workers", "1").code == 0
    assert same_measures(pair, tmp_path / "compact")
    assert pair.same("forget", "TH02", "--yes", "--workers", "1").code == 0
    assert same_measures(pair, tmp_path / "forgotten")
    left = pulled(pair.bucket, tmp_path / "left")
    assert kept_rows(left) == kept_rows(folder)
    objects = [o.key for kind in ("files", "pages") for o in pair.bucket.list(kind)]
    texts = [(key, pair.bucket.get(key) or b"") for key in objects]
    assert [key for key, content in texts if b"TH02" in content] == []
    assert len([key for key in objects if key.startswith("files/")]) == len(files_of(left.root)) - 1


def text_of(bucket: Bucket, key: str) -> str:
    content = bucket.get(key)
    assert content is not None
    return content.decode()


def same_measures(pair: Pair, root: Path) -> bool:
    """Whether every byte of samples, sessions and measures is the same in both."""
    there = files_of(pulled(pair.bucket, root).root)
    here = files_of(pair.folder)
    shutil.rmtree(root)
    kinds = ("samples/", "sessions/", "measures/", "tasks/", "roster/")
    assert {n for n in there if n.startswith(kinds)} == {n for n in here if n.startswith(kinds)}
    assert [n for n in there if n.startswith(kinds) and there[n] != here[n]] == []
    return True
