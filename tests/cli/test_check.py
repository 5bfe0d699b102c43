"""`levelhold check`: a store that is whole, and one that is not."""

import json
import shutil
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from pipeline.store import Warehouse, read_metadata, write_parquet
from tests.cli.conftest import Run, write_inbox
from tests.stores import busy_school, measured


def test_a_sound_store_has_no_fault(run: Run, school: Path) -> None:
    done = run("check", "--warehouse", school / "warehouse")
    assert (done.code, done.out, done.err) == (0, "no fault found\n", "")


def test_a_changed_byte_is_found_and_the_mend_is_named(run: Run, tmp_path: Path) -> None:
    warehouse = Warehouse(tmp_path / "warehouse")
    run("ingest", "--inbox", write_inbox(tmp_path / "inbox"), "--warehouse", warehouse.root)
    (file,) = warehouse.sample_files()
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    done = run("check", "--warehouse", warehouse.root)
    assert done.code == 5
    assert file.name in done.out
    assert "restore it from a backup" in done.out
    assert "1 fault found" in done.out
    (finding,) = json.loads(run("check", "--json", "--warehouse", warehouse.root).out)
    assert finding["file"].endswith(file.name)


def plant_damage(store: Warehouse) -> dict[str, str]:
    """Spoil a measured store of four batches in five ways: by spoilt file, the check that finds it."""
    flipped = store.sample_files()[0]
    content = bytearray(flipped.read_bytes())
    content[len(content) // 2] ^= 1
    flipped.write_bytes(content)
    cut = store.table_files("tasks")[1]
    cut.write_bytes(cut.read_bytes()[:-20])
    missing = store.sample_files()[2]
    missing.unlink()
    stray = store.root / "samples" / "notes.txt"
    stray.write_text("hello")
    twice = store.sessions / "b20990101T000000Z-abcdef.parquet"
    shutil.copy(store.table_files("sessions")[3], twice)
    planted = {
        flipped: "changed",
        cut: "changed",
        missing: "missing",
        stray: "stray",
        twice: "session_twice",
    }
    return {path.relative_to(store.root).as_posix(): check for path, check in planted.items()}


@pytest.mark.slow
def test_every_damage_that_was_planted_is_named_with_its_mend(run: Run, tmp_path: Path) -> None:
    store = measured(busy_school(tmp_path)).store
    kept = next(store.measures.glob("*/channel_sums/*/*.parquet"))
    outdated = read_metadata(kept) | {"fingerprint": "of other samples"}
    write_parquet(pq.read_table(kept, partitioning=None), kept, outdated)
    first = run("check", "--warehouse", store.root)
    assert first.code == 0
    name = kept.relative_to(store.root).as_posix()
    assert first.out.splitlines() == [
        f"outdated: {name}: made from other samples, neutrals or definitions than those there now",
        "    the next night computes it again, or `levelhold score`",
        "1 file of figures to be computed again",
        "no fault found",
    ]
    assert run("score", "--warehouse", store.root).code == 0
    assert run("check", "--warehouse", store.root).out == "no fault found\n"

    planted = plant_damage(store)
    done = run("check", "--warehouse", store.root)
    assert done.code == 5
    *lines, last = done.out.splitlines()
    assert last == "5 faults found"
    told = dict(zip(lines[::2], lines[1::2], strict=True))
    assert {line.split(": ")[1]: line.split(": ")[0] for line in told} == planted
    assert all(mend.startswith("    ") and len(mend) > 30 for mend in told.values())
