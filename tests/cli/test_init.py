"""`levelhold init`: a new school's folders, ready for the first night."""

import re
import tomllib
from pathlib import Path

from pipeline.operate.new_school import commented_settings
from pipeline.reading import limit_units, standard_names
from pipeline.settings import Settings, load_settings, parse_settings
from tests.cli.conftest import Run, write_inbox


def test_a_new_school_is_ready_for_a_night_that_finds_nothing(run: Run, tmp_path: Path) -> None:
    school = tmp_path / "school"
    done = run("init", school)
    assert (done.code, done.err) == (0, "")
    guide = (school / "warehouse" / "profiles" / "README.md").read_text(encoding="utf-8")
    assert "[channels]" in guide
    heading = (school / "inbox" / "roster.csv").read_text(encoding="utf-8")
    assert heading.startswith("student_id,cohort,start_date,")
    line = done.out.splitlines()[-1]
    night = run(*line.split()[1:])
    assert (night.code, night.err) == (0, "")
    assert "landed 0 sessions" in night.out
    assert "refused" not in night.out


def test_a_school_that_is_there_is_left_as_it_is(run: Run, tmp_path: Path) -> None:
    (tmp_path / "school" / "warehouse").mkdir(parents=True)
    settings = tmp_path / "school" / "warehouse" / "school.toml"
    settings.write_text('school_name = "Ours"\n')
    write_inbox(tmp_path / "school" / "inbox")
    assert run("init", tmp_path / "school").code == 0
    assert settings.read_text() == 'school_name = "Ours"\n'
    assert "TH01" in (tmp_path / "school" / "inbox" / "roster.csv").read_text()
    assert "nothing was changed" in run("init", tmp_path / "school").out


def test_a_folder_with_something_else_in_it_is_refused(run: Run, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    done = run("init", tmp_path)
    assert done.code == 2
    assert "there is something else in it, as photos; name a new folder" in done.err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["photos"]


def test_the_settings_of_a_new_school_set_nothing(tmp_path: Path) -> None:
    (tmp_path / "school.toml").write_text(commented_settings(), encoding="utf-8")
    assert load_settings(tmp_path, limit_units(), standard_names()) == Settings()


def test_every_setting_that_is_shown_can_be_uncommented() -> None:
    shown = re.sub(r"^#(?=[a-z\[])", "", commented_settings(), flags=re.MULTILINE)
    settings = parse_settings(tomllib.loads(shown), "school.toml", limit_units(), standard_names())
    assert settings.model_fields_set == set(Settings.model_fields)
