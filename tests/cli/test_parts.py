"""`levelhold ingest` and `levelhold score`: the night's parts run alone."""

import json
from pathlib import Path

from pipeline.store import Warehouse
from tests.cli.conftest import Run, write_inbox


def test_ingest_names_what_it_took_and_what_it_refused_and_why(run: Run, tmp_path: Path) -> None:
    inbox = write_inbox(tmp_path / "inbox")
    done = run("ingest", "--inbox", inbox, "--warehouse", tmp_path / "warehouse")
    assert done.code == 3
    assert "landed 1 session, 0 already there" in done.out
    assert "refused: logs/s2.csv: the file is empty" in done.out
    assert done.err == ""


def test_a_refusal_that_was_told_is_not_told_again(run: Run, tmp_path: Path) -> None:
    arguments = ("--inbox", write_inbox(tmp_path / "inbox"), "--warehouse", tmp_path / "warehouse")
    run("ingest", *arguments)
    again = run("ingest", *arguments)
    assert again.code == 0
    assert "landed 0 sessions, 1 already there" in again.out
    assert "refused before and unchanged: 1" in again.out


def test_quiet_says_nothing_when_nothing_was_refused(run: Run, school: Path) -> None:
    where = ("--inbox", school / "inbox", "--warehouse", school / "warehouse")
    for arguments in (("ingest", *where), ("score", *where[2:])):
        done = run(*arguments, "--quiet")
        assert (done.code, done.out, done.err) == (0, "", "")


def test_a_report_can_be_read_by_a_machine(run: Run, tmp_path: Path) -> None:
    inbox = write_inbox(tmp_path / "inbox")
    done = run("ingest", "--json", "--inbox", inbox, "--warehouse", tmp_path / "warehouse")
    report = json.loads(done.out)
    assert [session["session_id"] for session in report["landed"]] == ["s1"]
    assert report["refusals"][0]["file"] == "logs/s2.csv"


def test_scoring_twice_measures_nothing_the_second_time(run: Run, school: Path) -> None:
    done = run("score", "--warehouse", school / "warehouse")
    assert done.code == 0
    assert "measured 0 units of work" in done.out


def test_an_inbox_that_is_not_there_is_wrong_usage(run: Run, tmp_path: Path) -> None:
    done = run("ingest", "--inbox", tmp_path / "none", "--warehouse", tmp_path / "warehouse")
    assert done.code == 2
    assert "there is no such inbox folder" in done.err


def test_a_misspelt_setting_stops_the_run_before_anything_lands(run: Run, tmp_path: Path) -> None:
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"
    warehouse.mkdir()
    (warehouse / "school.toml").write_text('[stage]\nsolo = "first-lessons"\n')
    done = run("ingest", "--inbox", inbox, "--warehouse", warehouse)
    assert done.code == 4
    assert done.err == "levelhold: school.toml: stage: no such key; did you mean stages?\n"
    assert not (warehouse / "sessions").exists()


def test_a_damaged_samples_file_is_named(run: Run, tmp_path: Path) -> None:
    inbox, warehouse = write_inbox(tmp_path / "inbox"), Warehouse(tmp_path / "warehouse")
    run("ingest", "--inbox", inbox, "--warehouse", warehouse.root)
    (file,) = warehouse.sample_files()
    file.write_bytes(file.read_bytes()[:200])
    done = run("score", "--warehouse", warehouse.root)
    assert done.code == 5
    assert file.name in done.err


def test_figures_that_were_never_made_are_not_told_as_none(run: Run, tmp_path: Path) -> None:
    inbox, warehouse = write_inbox(tmp_path / "inbox"), tmp_path / "warehouse"
    run("ingest", "--inbox", inbox, "--warehouse", warehouse)
    done = run("query", "--warehouse", warehouse, "SELECT * FROM maneuvers")
    assert done.code == 2
    assert done.out == ""
    assert "1 of 1 samples files are not measured" in done.err
    assert "run levelhold score first" in done.err
    pages = run("pages", "--warehouse", warehouse)
    assert (pages.code, pages.out) == (2, "")
    assert "run levelhold score first" in pages.err
    assert not (warehouse / "pages").exists()
    landed = run("query", "--warehouse", warehouse, "SELECT session_id FROM sessions")
    assert landed.code == 0
    assert "s1" in landed.out
