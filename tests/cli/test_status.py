"""`levelhold status`: how the store stands and what to do next."""

import hashlib
import json
import re
import shutil
from pathlib import Path

import pytest

from pipeline.cli import main
from tests.cli.conftest import Run, write_inbox


def contents(folder: Path) -> dict[str, str]:
    """The SHA-256 of every file below a folder; what only tells that somebody reads is no content."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != ".readers"
    }


def test_before_the_first_night_it_says_what_the_night_would_bring(
    run: Run, tmp_path: Path
) -> None:
    run("init", tmp_path / "new")
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "new" / "warehouse"
    before = contents(warehouse)
    done = run("status", "--inbox", inbox, "--warehouse", warehouse)
    assert (done.code, done.err) == (0, "")
    assert "last night: no run has left a report yet" in done.out
    assert (
        "would land 1 session, refuse 1 new input, leave 0 waiting, measure 1 samples file"
        in done.out
    )
    assert "store: 0 sessions" in done.out
    assert "run the first night" in done.out
    assert contents(warehouse) == before


@pytest.fixture(scope="module")
def one_night(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `inbox` and `warehouse` after one night; tests work on copies."""
    folder = tmp_path_factory.mktemp("one-night")
    inbox = write_inbox(folder / "inbox")
    (inbox / "logs" / "s9.csv").write_text("time_s,altitude_ft,heading_deg\n0,3000,90\n")
    with pytest.raises(SystemExit) as leaving:
        main(["nightly", "--inbox", str(inbox), "--warehouse", str(folder / "warehouse"), "-q"])
    assert leaving.value.code == 3
    return folder


@pytest.fixture
def after_a_night(one_night: Path, tmp_path: Path) -> Path:
    """A copy of one's own."""
    return Path(shutil.copytree(one_night, tmp_path / "school"))


def test_after_a_night_it_names_what_was_refused_and_what_waits(
    run: Run, after_a_night: Path
) -> None:
    warehouse = after_a_night / "warehouse"
    night = ("--inbox", after_a_night / "inbox", "--warehouse", warehouse)
    before = contents(warehouse)
    done = run("status", *night)
    assert done.code == 0
    assert "exit code 3, landed 1 session" in done.out
    assert "refused: logs/s2.csv" in done.out
    assert "the file is empty" in done.out
    assert "quarantine/" in done.out
    assert "waiting: logs/s9.csv" in done.out
    assert "would land 0 sessions, refuse 0 new inputs, leave 1 waiting, measure 0" in done.out
    assert "store: 1 session, batches 1," in done.out
    assert re.search(r"(?m)^newest session: 2026-02-02, \d+ days before today$", done.out)
    assert "mend what was refused" in done.out
    assert "add a row to sessions.csv" in done.out
    assert contents(warehouse) == before

    told = json.loads(run("status", "--json", *night[2:]).out)
    assert told["status"]["last_night"]["landed"] == 1
    assert told["status"]["size"]["sessions"] == 1
    assert told["status"]["size"]["newest_date"] == "2026-02-02"
    assert len(told["next_actions"]) == 2


def test_a_killed_run_and_a_missed_night_are_told(run: Run, after_a_night: Path) -> None:
    warehouse = after_a_night / "warehouse"
    (report,) = (warehouse / "runs").glob("r*.json")
    told = json.loads(report.read_text())
    report.write_text(json.dumps({**told, "started_at": "2026-01-01T02:00:00+00:00"}))
    (warehouse / ".lock.json").write_text('{"since": "2026-01-02T02:00:00+00:00"}')
    done = run("status", "--warehouse", warehouse)
    assert "a run began at 2026-01-02 02:00 UTC and has not ended" in done.out
    assert "see why no night has ended since 2026-01-01" in done.out


def test_a_night_that_failed_is_told_until_one_ends_well(run: Run, tmp_path: Path) -> None:
    inbox, warehouse = tmp_path / "inbox", tmp_path / "warehouse"
    night = ("nightly", "--inbox", inbox, "--warehouse", warehouse)
    assert run(*night).code == 2
    assert "there is no such inbox folder" in (warehouse / "runs" / "failed.json").read_text()
    (warehouse / "school.toml").write_text("[kep]\n")
    assert run(*night).code == 4
    metrics = (warehouse / "runs" / "levelhold.prom").read_text()
    assert "levelhold_run_exit_code 4\n" in metrics
    (warehouse / "school.toml").unlink()
    said = run("status", "--warehouse", warehouse).out
    assert "exit code 4\n    school.toml: kep: no such key; did you mean keep?" in said
    assert "mend what the failed night says" in said
    write_inbox(inbox)
    assert run(*night).code == 3
    assert not (warehouse / "runs" / "failed.json").exists()


def test_a_spoilt_run_report_is_named(run: Run, tmp_path: Path) -> None:
    (tmp_path / "runs").mkdir()
    (tmp_path / "runs" / "r20260101T020000Z.json").write_text("{")
    done = run("status", "--warehouse", tmp_path)
    assert done.code == 5
    assert "runs/r20260101T020000Z.json: not a readable run report; remove it" in done.err


def test_what_waits_for_the_same_is_told_in_one_line(run: Run, tmp_path: Path) -> None:
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"
    heading, row, _ = (inbox / "sessions.csv").read_text().splitlines(keepends=True)
    rows = (row.replace("s1", f"w{n}").rstrip() + ",heron\n" for n in range(5))
    (inbox / "sessions.csv").write_text(heading.rstrip() + ",recorder\n" + "".join(rows))
    for path in inbox.glob("*/s*.csv"):
        path.unlink()
    for n in range(5):
        (inbox / "logs" / f"w{n}.csv").write_text("Height\n")
    said = run("nightly", "--dry-run", "--inbox", inbox, "--warehouse", warehouse).out
    (line,) = (line for line in said.splitlines() if line.startswith("waiting: "))
    assert line.startswith("waiting: 5 sessions (w0, w1, w2 and 2 more): there is no profile for")
    run("init", tmp_path / "new")
    said = run("status", "--inbox", inbox, "--warehouse", tmp_path / "new" / "warehouse").out
    assert "leave 5 waiting" in said
    assert "write a profile for the recorder" in said

    (inbox / "sessions.csv").write_text((inbox / "sessions.csv").read_text().replace("heron", ""))
    said = run("nightly", "--dry-run", "--inbox", inbox, "--warehouse", warehouse).out
    (line,) = (line for line in said.splitlines() if line.startswith("refused: "))
    assert line.startswith("refused: 5 files (logs/w0.csv, logs/w1.csv, logs/w2.csv and 2 more)")
    assert line.endswith("in a profile of its recorder (and 2 more faults)")
