"""`levelhold profile try`: a log as channels, with nothing written; a profile's faults on one line."""

from pathlib import Path

from tests.cli.conftest import Run
from tests.recorders import ELAPSED, TWO_CHANNELS, columns_text

PROFILE = ELAPSED + TWO_CHANNELS.replace('"alt"', '"alt", unit = "m"')
LOG = columns_text(t=[0, 0.25, 0.5], alt=[1000, 1000, 1001], hdg=[90, 91, 92], oil=[1, 2, 3])


def _files(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_trying_a_profile_shows_rows_changes_and_what_is_ignored(run: Run, tmp_path: Path) -> None:
    profile, log = tmp_path / "moth.toml", tmp_path / "flight.csv"
    profile.write_text(PROFILE)
    log.write_text(LOG)
    before = _files(tmp_path)
    done = run("profile", "try", profile, log, "--rows", "2")
    assert (done.code, done.err) == (0, "")
    lines = done.out.splitlines()
    assert lines[0] == "time from 't': s since the session's start"
    assert lines[1] == "altitude_ft from 'alt': m to ft (x 3.28084)"
    assert lines[2] == "heading_deg from 'hdg': deg, as it stands"
    assert lines[4].split() == ["time_s", "altitude_ft", "heading_deg"]
    assert [line.split() for line in lines[6:8]] == [
        ["0.0", "3280.84", "90.0"],
        ["0.25", "3280.84", "91.0"],
    ]
    assert "3 samples" in done.out
    assert "ignored: 'oil'" in done.out
    assert _files(tmp_path) == before


def test_a_log_that_would_be_refused_says_why_and_leaves_3(run: Run, tmp_path: Path) -> None:
    (tmp_path / "moth.toml").write_text(PROFILE)
    (tmp_path / "flight.csv").write_text(LOG.replace("hdg", "course"))
    done = run("profile", "try", tmp_path / "moth.toml", tmp_path / "flight.csv")
    assert done.code == 3
    assert "the log would be refused" in done.out
    assert done.err.startswith("flight.csv, column hdg: the column that the profile reads as")


def test_faults_of_the_call_and_of_the_profile_are_one_line(run: Run, tmp_path: Path) -> None:
    profile, log = tmp_path / "moth.toml", tmp_path / "flight.csv"
    log.write_text(LOG)
    assert run("profile", "try", profile, log).code == 2
    profile.write_text(PROFILE.replace("elapsed", "elapsing"))
    faulty = run("profile", "try", profile, log)
    assert faulty.code == 4
    assert faulty.err.count("\n") == 1
    profile.write_text(PROFILE)
    assert run("profile", "try", profile, tmp_path / "none.csv").code == 2
    wrong = run("profile", "try", profile, log, "--started-at", "2026-03-14T09:00")
    assert wrong.code == 2
    assert "is no time with an offset" in wrong.err
    clock = "[time]\nform = 'clock'\ncolumn = 't'\nzone = 'UTC'\n"
    profile.write_text(PROFILE.replace(ELAPSED, clock))
    dateless = run("profile", "try", profile, log)
    assert "give the session's start with --started-at" in dateless.err
