"""What an export is asked for: its terms, its options, and what is refused in one sentence."""

import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.export.conftest import described


def test_what_an_export_says_of_its_terms_comes_from_the_settings_or_the_options(
    made: Path,
) -> None:
    for package in (made / "cells", made / "rows"):
        text = (package / "README.md").read_text()
        assert "Licence: CC-BY-4.0." in text
        assert "Contact: the school's office." in text
        assert described(package)["licenses"] == [{"name": "CC-BY-4.0"}]
        assert 'license: "CC-BY-4.0"' in (package / "CITATION.cff").read_text()
    assert "Consent and ethics: by consent." in (made / "cells" / "README.md").read_text()
    assert "Consent and ethics: not stated" in (made / "rows" / "README.md").read_text()


def test_check_only_writes_nothing_and_misses_once_the_terms_that_are_not_given(
    run: Run, copy: Path
) -> None:
    before = sorted(copy.rglob("*"))
    done = run("export", "--warehouse", copy, "--check-only", "--ethics", "by consent")
    assert done.code == 0
    assert done.err.count("note: ") == 1
    assert (
        "names no licence, no contact: set licence, contact in [export] of school.toml" in done.err
    )
    assert "cells shown" in done.out
    assert sorted(copy.rglob("*")) == before


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--out", "{made}/cells"], "is there already"),
        (["--out", "{made}/warehouse/out"], "lies in the warehouse"),
        (["--out", "{made}/x", "--level", "student"], "need a key file"),
        (
            ["--out", "{made}/x", "--level", "student", "--key", "{made}/warehouse/k.json"],
            "must lie outside",
        ),
        ([], "--out DIR"),
        (["--out", "{made}/x", "--link", "r1"], "only rows of single students are linked"),
        (["--out", "{made}/x", "--key", "{made}/k"], "--key: figures of groups hold no codes"),
        (["--verify", "{made}/cells", "--check-only"], "--verify makes nothing"),
        (["--verify", "{made}/rows"], "give the key file of the release with --key"),
        (["--verify", "{made}/rows", "--key", "{made}/none"], "holds no codes of release"),
    ],
)
def test_wrong_usage_is_one_sentence(
    run: Run, made: Path, arguments: list[str], sentence: str
) -> None:
    filled = [argument.format(made=made) for argument in arguments]
    done = run("export", "--warehouse", made / "warehouse", *filled)
    assert done.code == 2
    assert sentence in done.err
    assert not (made / "x").exists()


def test_figures_that_were_not_measured_are_not_left_out_in_silence(run: Run, copy: Path) -> None:
    shutil.rmtree(copy / "measures")
    done = run("export", "--warehouse", copy, "--check-only")
    assert done.code == 2
    assert "run levelhold score first" in done.err


@pytest.mark.parametrize(
    ("limit", "sentence"),
    [("share_minimum_students = 4", "too few"), ("share_curve_step_s = 5", "too fine")],
)
def test_limits_that_would_give_somebody_away_are_refused(
    run: Run, copy: Path, limit: str, sentence: str
) -> None:
    (copy / "school.toml").write_text(f"[limits]\n{limit}\n")
    done = run("export", "--warehouse", copy, "--check-only")
    assert done.code == 4
    assert sentence in done.err


def test_a_school_too_small_for_any_cell_is_refused(run: Run, school: Path, tmp_path: Path) -> None:
    warehouse = shutil.copytree(school / "warehouse", tmp_path / "warehouse")
    done = run("export", "--warehouse", warehouse, "--out", tmp_path / "out")
    assert done.code == 3
    assert "no group of 10 students or more" in done.out
    assert not (tmp_path / "out").exists()
