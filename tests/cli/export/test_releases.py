"""Releases side by side give nobody away, and hold nobody who said no."""

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.export.conftest import read


def test_a_release_that_one_session_tells_from_another_is_refused(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    assert run("export", "--warehouse", copy, "--out", tmp_path / "first").code == 0
    withdrawn = run("withdraw", "LS01-w1", "--note", "a test", "--warehouse", copy)
    assert withdrawn.code == 0
    before = {p: p.read_bytes() for p in (copy / "releases").iterdir()}
    done = run("export", "--warehouse", copy, "--out", tmp_path / "second")
    assert done.code == 3
    assert "refused: nothing was written" in done.out
    assert "groups of 1 to 9 students" in done.out
    assert not (tmp_path / "second").exists()
    assert {p: p.read_bytes() for p in (copy / "releases").iterdir()} == before
    assert run("export", "--warehouse", copy, "--verify", tmp_path / "first").code == 0


@pytest.mark.slow
def test_two_times_that_do_not_meet_can_both_be_released(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    first = run("export", "--warehouse", copy, "--out", tmp_path / "1", "--to", "2026-01-15")
    second = run("export", "--warehouse", copy, "--out", tmp_path / "2", "--from", "2026-01-16")
    assert (first.code, second.code) == (0, 0)


@pytest.mark.slow
def test_a_cohort_of_its_own_and_all_together_can_both_be_released(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    """What is left of all after the one cohort is 23 students."""
    first = ("export", "--warehouse", copy, "--out", tmp_path / "1", "--cohort", "autumn")
    assert run(*first).code == 0
    assert run("export", "--warehouse", copy, "--out", tmp_path / "2").code == 0


@pytest.mark.slow
def test_a_small_cohort_cannot_be_had_by_asking_for_it_alone(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    """The five students of summer are no cell, asked for beside the others or alone."""
    assert run("export", "--warehouse", copy, "--out", tmp_path / "1").code == 0
    asked = ("export", "--warehouse", copy, "--out", tmp_path / "2", "--cohort", "summer")
    assert run(*asked).code == 3


@pytest.mark.slow
def test_rows_under_new_codes_are_refused_where_equal_figures_would_link_them(
    run: Run, made: Path, tmp_path: Path
) -> None:
    warehouse = shutil.copytree(made / "warehouse", tmp_path / "warehouse")
    key = shutil.copy(made / "keys.json", tmp_path / "keys.json")
    asked = ("export", "--warehouse", warehouse, "--level", "student", "--key", key)
    done = run(*asked, "--out", tmp_path / "other")
    assert done.code == 3
    assert "equal figures would link them" in done.out
    release = json.loads((made / "rows" / "run.json").read_text())["release_id"]
    assert run(*asked, "--out", tmp_path / "linked", "--link", release).code == 0
    codes = set(read(made / "rows", "students")["student_code"])
    assert set(read(tmp_path / "linked", "students")["student_code"]) == codes


@pytest.mark.slow
def test_codes_tell_nothing_and_differ_from_release_to_release(
    run: Run, copy: Path, tmp_path: Path
) -> None:
    key = tmp_path / "keys.json"
    asked = ("export", "--warehouse", copy, "--level", "student", "--key", key)
    assert run(*asked, "--out", tmp_path / "1", "--to", "2026-01-15").code == 0
    assert run(*asked, "--out", tmp_path / "2", "--from", "2026-01-16").code == 0
    first, second = (set(read(tmp_path / n, "students")["student_code"]) for n in ("1", "2"))
    assert not first & second
    ids = [f"LS{n:02d}" for n in range(1, 38)]
    for algorithm in ("md5", "sha1", "sha256", "blake2b"):
        guesses = {f"P{hashlib.new(algorithm, i.encode()).hexdigest()[:8]}" for i in ids}
        assert not guesses & (first | second)


def test_rows_are_of_students_who_agreed_and_cells_of_none_who_refused(
    run: Run, asked_for_consent: Path, tmp_path: Path
) -> None:
    key = tmp_path / "keys.json"
    rows = ("--level", "maneuver", "--out", tmp_path / "rows", "--key", key)
    done = run("export", "--warehouse", asked_for_consent, *rows)
    assert done.code == 0, done.out + done.err
    assert "said no" not in done.out  # fewer than ten students: not told by itself
    codes = json.loads(key.read_text())["codes"]
    students = {i for held in codes.values() for i in held["student"]}
    refused_or_silent = {f"LS{n:02d}" for n in range(1, 38) if n % 7 == 0 or n % 11 == 0}
    assert not students & refused_or_silent
    assert students
    check = run("export", "--warehouse", asked_for_consent, "--check-only", "--json")
    report = json.loads(check.out)
    assert report["is_consent_asked"]
    told = [r for r in report["left_out"] if r["counted"] == "students"]
    assert [(r["reason_code"], r["students_about"]) for r in told] == [("in", 30), ("rest", None)]


def test_a_small_cohort_is_masked_in_rows(made: Path) -> None:
    students = read(made / "rows", "students")
    counts = dict(students.group_by("cohort").len().iter_rows())
    assert counts == {"autumn": 14, "winter": 12, None: 11}
