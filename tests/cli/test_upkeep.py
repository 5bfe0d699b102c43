"""`compact`, `backup`, `restore`, `forget` and `--undo`: looking after a store, as installed."""

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Run


@pytest.fixture
def own(school: Path, tmp_path: Path) -> Path:
    """A school of one's own to change."""
    shutil.copytree(school, tmp_path / "own")
    return tmp_path / "own"


def rows(run: Run, warehouse: Path, sql: str) -> list[dict[str, object]]:
    found = json.loads(run("query", "--format", "json", "--warehouse", warehouse, sql).out)
    return list(found)


def test_small_batches_are_merged_and_a_second_time_there_is_nothing_to_merge(
    run: Run, own: Path
) -> None:
    warehouse = own / "warehouse"
    (own / "inbox" / "logs" / "s2.csv").write_text((own / "inbox" / "logs" / "s1.csv").read_text())
    run("ingest", "--inbox", own / "inbox", "--warehouse", warehouse)
    figures = "SELECT maneuver_id, altitude_rmse_ft FROM altitude_hold"
    before = rows(run, warehouse, figures)
    done = run("compact", "--warehouse", warehouse)
    assert (done.code, done.err) == (0, "")
    assert "merged 2 batches into b" in done.out
    assert "removed by the next run" in done.out
    assert [row for row in rows(run, warehouse, figures) if row in before] == before
    assert run("check", "--warehouse", warehouse).out == "no fault found\n"
    assert run("compact", "--warehouse", warehouse).out == "nothing to merge\n"


def test_a_backup_is_restored_with_its_figures(run: Run, own: Path, tmp_path: Path) -> None:
    made = run("backup", tmp_path / "copy", "--warehouse", own / "warehouse")
    assert made.code == 0
    assert "measures and pages are not in it" in made.out
    again = run("backup", tmp_path / "copy", "--warehouse", own / "warehouse")
    assert again.code == 2
    assert "name a new folder" in again.err
    back = run("restore", tmp_path / "copy", "--warehouse", tmp_path / "new" / "warehouse")
    assert back.code == 0
    assert "forget them again" in back.out
    figures = "SELECT maneuver_id, altitude_rmse_ft FROM altitude_hold"
    new = tmp_path / "new" / "warehouse"
    assert rows(run, new, figures) == rows(run, own / "warehouse", figures) != []


def test_forgetting_asks_to_be_sure_then_says_what_it_did_and_proves_it(
    run: Run, own: Path
) -> None:
    given = ["forget", "TH01", "--inbox", own / "inbox", "--warehouse", own / "warehouse"]
    asked = run(*given)
    assert asked.code == 2
    assert "1 session would go" in asked.err
    assert "add --yes" in asked.err
    assert rows(run, own / "warehouse", "SELECT session_id FROM sessions") != []
    done = run(*given, "--yes")
    assert (done.code, done.err) == (0, "")
    assert "forgotten: 1 session gone" in done.out
    assert "proven: no file of the store names the student" in done.out
    again = run("ingest", "--inbox", own / "inbox", "--warehouse", own / "warehouse")
    assert "landed 0 sessions" in again.out
    assert rows(run, own / "warehouse", "SELECT session_id FROM sessions") == []
    assert run("check", "--warehouse", own / "warehouse").out == "no fault found\n"


def test_a_code_of_someone_unknown_is_wrong_usage(run: Run, own: Path) -> None:
    done = run("forget", "TH1", "--yes", "--warehouse", own / "warehouse")
    assert done.code == 2
    assert "did you mean TH01?" in done.err


def test_what_was_withdrawn_or_set_aside_can_be_taken_back(run: Run, own: Path) -> None:
    place = ["--note", "x", "--warehouse", own / "warehouse"]
    count = "SELECT COUNT(*) AS n FROM sessions"
    scored = "SELECT BOOL_AND(is_scored) AS is_scored FROM maneuvers WHERE maneuver_id = 's1.1.01'"
    assert run("withdraw", "s1", *place).code == 0
    assert rows(run, own / "warehouse", count) == [{"n": 0}]
    undone = run("withdraw", "s1", "--undo", *place)
    assert "the withdraw of s1 holds no longer" in undone.out
    assert rows(run, own / "warehouse", count) == [{"n": 1}]
    assert run("withdraw", "s1", "--undo", *place).code == 2
    assert run("withdraw", "s1", *place).code == 0
    assert rows(run, own / "warehouse", count) == [{"n": 0}]
    assert run("withdraw", "s1", "--undo", *place).code == 0
    assert run("set-aside", "s1.1.01", *place).code == 0
    assert rows(run, own / "warehouse", scored) == [{"is_scored": False}]
    assert run("set-aside", "s1.1.01", "--undo", *place).code == 0
    assert rows(run, own / "warehouse", scored) == [{"is_scored": True}]
    assert run("reassign", "s1", *place).code == 2
    assert rows(run, own / "warehouse", "SELECT COUNT(*) AS n FROM stored_reviews") == [{"n": 6}]
