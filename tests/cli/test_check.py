"""`levelhold check`: a store that is whole, and one that is not."""

import json
from pathlib import Path

from pipeline.store import Warehouse
from tests.cli.conftest import Run, write_inbox


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
