"""`levelhold nightly` and `levelhold pages`: the whole night in one command, safe to repeat."""

import hashlib
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

from pipeline.store import Warehouse, hold_lock
from tests.cli.conftest import Run, write_inbox

ROOT = Path(__file__).parents[2]


def digests(folder: Path) -> dict[str, str]:
    """The SHA-256 of every file below a folder, by its path there."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_one_command_lands_scores_and_writes_the_page(run: Run, tmp_path: Path) -> None:
    warehouse = tmp_path / "warehouse"
    arguments = ("--inbox", write_inbox(tmp_path / "inbox"), "--warehouse", warehouse)
    first = run("nightly", *arguments)
    assert first.code == 3, first.err
    assert "landed 1 session, 0 already there" in first.out
    assert "refused: logs/s2.csv: the file is empty" in first.out
    assert f"page: {warehouse}/pages/index.html" in first.out
    assert "TH01" in (warehouse / "pages" / "students.html").read_text(encoding="utf-8")

    stored = {name: digests(warehouse / name) for name in ("samples", "sessions", "measures")}
    again = run("nightly", *arguments, "--quiet")
    assert (again.code, again.out, again.err) == (0, "", "")
    assert {name: digests(warehouse / name) for name in stored} == stored

    reports = [json.loads(path.read_text()) for path in sorted(warehouse.glob("runs/*.json"))]
    assert [report["exit_code"] for report in reports] == [3, 0]
    assert [set(report["outputs"]) for report in reports] == [
        {"batch", "measures", "pages"},
        {"pages"},
    ]
    assert reports[0]["since_before"] is None
    assert reports[1]["since_before"]["run_id"] == reports[0]["run_id"]
    assert reports[0]["settings_sha256"] == reports[1]["settings_sha256"]
    assert (warehouse / "runs" / "levelhold.prom").read_text().endswith("# EOF\n")

    told = json.loads(run("nightly", *arguments, "--json", "--since", "2026-02-03").out)
    assert told == json.loads(max(warehouse.glob("runs/r*.json")).read_text())
    assert (told["passed_over"], told["already_landed"], told["refused"]) == (
        1,
        0,
        reports[1]["refused"],
    )

    page = warehouse / "pages" / "index.html"
    page.unlink()
    assert run("pages", "--warehouse", warehouse).out == f"page: {page}\n"
    assert page.exists()


def test_a_night_that_finds_the_lock_held_changes_nothing(run: Run, tmp_path: Path) -> None:
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"
    night = ["nightly", "--inbox", str(inbox), "--warehouse", str(warehouse)]
    with hold_lock(Warehouse(warehouse), "nightly", datetime.now(UTC)):
        done = subprocess.run(
            [sys.executable, "-m", "pipeline", *night],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 75
    assert done.stdout == ""
    assert "nothing was changed" in done.stderr
    assert not (warehouse / "sessions").exists()
