"""An export can be made again, byte for byte; what differs is named."""

import json
import os
import platform
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from pipeline.export.register import read_release
from pipeline.export.release import otherwise
from pipeline.store import Warehouse
from tests.cli.conftest import Run
from tests.cli.export.conftest import leave
from tests.larger_school import write_roster


@pytest.mark.slow
def test_another_place_time_zone_language_and_hash_seed_change_no_byte(
    made: Path, tmp_path: Path
) -> None:
    elsewhere = Path(shutil.copytree(made, tmp_path / "elsewhere"))
    command = "import sys; from pipeline.cli import main; main(sys.argv[1:])"
    asked = (sys.executable, "-c", command, "export", "--warehouse", elsewhere / "warehouse")
    other = os.environ | {"TZ": "Asia/Tokyo", "LC_ALL": "C", "PYTHONHASHSEED": "11"}
    for more in (
        ("--verify", made / "cells"),
        ("--verify", made / "rows", "--key", elsewhere / "keys.json"),
    ):
        done = subprocess.run(
            [*asked, *more],
            capture_output=True,
            text=True,
            check=False,
            cwd=Path(__file__).parents[3],
            env=other,
        )
        assert done.returncode == 0, done.stdout + done.stderr


def test_an_export_can_be_made_again_byte_for_byte(run: Run, made: Path) -> None:
    arguments = ("--verify", made / "rows", "--key", made / "keys.json", "--json")
    done = run("export", "--warehouse", made / "warehouse", *arguments)
    assert done.code == 0
    report = json.loads(done.out)
    assert len(report["same"]) > 20
    assert report["different"] + report["missing"] + report["unknown"] == []


@pytest.mark.slow
def test_other_settings_are_named(run: Run, made: Path, tmp_path: Path) -> None:
    warehouse = Path(shutil.copytree(made / "warehouse", tmp_path / "warehouse"))
    (warehouse / "school.toml").write_text('[stages]\nfirst-lessons = "faa-private-instruments"\n')
    done = run("export", "--warehouse", warehouse, "--verify", made / "cells")
    assert done.code == 3
    assert "differs: data/cells.csv" in done.out
    assert "note: definitions or settings are not those that it was made with" in done.out


@pytest.mark.slow
def test_other_codes_in_the_key_file_are_seen(run: Run, made: Path, tmp_path: Path) -> None:
    key = tmp_path / "keys.json"
    content = (made / "keys.json").read_text()
    code = json.loads(content)["codes"].popitem()[1]["student"]["LS01"]
    key.write_text(content.replace(code, "P00000000"))
    done = run("export", "--warehouse", made / "warehouse", "--verify", made / "rows", "--key", key)
    assert done.code == 3
    assert "differs: data/students.csv" in done.out
    assert "differs: definitions" not in done.out


def test_another_version_is_named_and_alone_changes_no_file(made: Path) -> None:
    record = read_release(Warehouse(made / "warehouse"), _release_of(made / "cells"))
    facts = dict(record.facts) | {"versions": record.facts["versions"] | {"python": "3.11.0"}}
    made_then = {
        p.relative_to(made / "cells").as_posix(): p.read_bytes() for p in _files(made / "cells")
    }
    notes = list(otherwise(replace(record, facts=facts), made_then))
    assert notes == [f"it was made with python 3.11.0, this is {platform.python_version()}"]
    assert list(otherwise(record, made_then)) == []


def _release_of(package: Path) -> str:
    return str(json.loads((package / "run.json").read_text())["release_id"])


def _files(package: Path) -> list[Path]:
    return [path for path in package.rglob("*") if path.is_file()]


@pytest.mark.slow
def test_the_number_of_threads_changes_no_byte(made: Path) -> None:
    from pipeline.export import verify_release
    from pipeline.reading import school_settings

    place = Warehouse(made / "warehouse")
    settings = school_settings(place)
    for package in ("cells", "weeks", "rows"):
        report = verify_release(made / package, place, settings, made / "keys.json", threads=4)
        assert report.is_same, report


def test_what_was_changed_since_is_named(run: Run, made: Path, tmp_path: Path) -> None:
    package = Path(shutil.copytree(made / "cells", tmp_path / "cells"))
    cells = package / "data" / "cells.csv"
    cells.write_bytes(cells.read_bytes().replace(b"true", b"false", 1))
    (package / "codebook.csv").unlink()
    (package / "notes.txt").write_text("mine")
    done = run("export", "--warehouse", made / "warehouse", "--verify", package)
    assert done.code == 3
    assert done.out.splitlines()[1:] == [
        "differs: data/cells.csv",
        "missing: codebook.csv",
        "does not belong: notes.txt",
    ]


@pytest.mark.slow
def test_the_same_release_twice_has_the_same_data(run: Run, made: Path, tmp_path: Path) -> None:
    warehouse = shutil.copytree(made / "warehouse", tmp_path / "warehouse")
    done = run("export", "--warehouse", warehouse, "--out", tmp_path / "again")
    assert done.code == 0
    for path in (made / "cells" / "data").glob("*.csv"):
        assert (tmp_path / "again" / "data" / path.name).read_bytes() == path.read_bytes()


@pytest.mark.slow
def test_a_release_can_be_made_again_though_more_has_landed_since(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    assert run("export", "--warehouse", copy, "--out", tmp_path / "before").code == 0
    write_roster(tmp_path / "inbox", with_consent=True)
    leave("ingest", "--quiet", "--inbox", tmp_path / "inbox", "--warehouse", copy)
    assert run("export", "--warehouse", copy, "--verify", tmp_path / "before").code == 0


@pytest.mark.slow
def test_compacting_changes_no_release_but_may_not_mix_it_with_later_batches(
    run: Run, copy: Path, asked_for_consent: Path, tmp_path: Path
) -> None:
    assert asked_for_consent == copy
    after = tmp_path / "after"
    assert run("export", "--warehouse", copy, "--out", after, "--cohort", "winter").code == 0
    assert run("compact", "--warehouse", copy).code == 0
    assert run("export", "--warehouse", copy, "--verify", after).code == 0
    record = next((copy / "releases").glob("r*.parquet"))
    told = pq.read_metadata(record).metadata
    facts = json.loads(told[b"levelhold"])["facts"]
    assert len(facts["batches"]) == 2
