"""school.toml: every key optional, every fault named with its key, nothing unknown let through."""

from pathlib import Path

import pytest

from pipeline.errors import SettingsError
from pipeline.reading import limit_units
from pipeline.relations import build, connect
from pipeline.settings import Settings, load_settings

LIMITS = {
    "trim_settle_hold_s": "s",
    "untrimmed_control": "fraction of travel",
    "hold_share": "fraction",
    "minimum_students": "students",
    "raise_z": "standard normal",
    "is_shown": "0 or 1",
}


def _load(tmp_path: Path, text: str, standards: tuple[str, ...] = ()) -> Settings:
    (tmp_path / "school.toml").write_text(text, encoding="utf-8")
    return load_settings(tmp_path, LIMITS, standards)


def test_without_a_file_the_defaults_hold(tmp_path: Path) -> None:
    assert load_settings(tmp_path, LIMITS) == Settings()


def test_a_full_file_is_read(tmp_path: Path) -> None:
    text = """
    school_name = "Tarn Hollow"
    [stages]
    solo = "ours"
    [standards.ours]
    altitude_ft = 150
    [limits]
    untrimmed_control = 0.06
    [landing]
    max_log_mb = 10
    """
    settings = _load(tmp_path, text, standards=("first_lessons",))
    assert settings.stages == {"solo": "ours"}
    assert settings.standards["ours"].altitude_ft == 150
    assert settings.standards["ours"].heading_deg is None
    assert settings.limits == {"untrimmed_control": 0.06}


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('school_nam = "x"', "school.toml: school_nam: no such key; did you mean school_name?"),
        (
            "[standards.a]\naltitude = 1",
            "standards.a.altitude: no such key; did you mean altitude_ft?",
        ),
        (
            "[standards.a]",
            "standards.a: give at least one of altitude_ft, heading_deg, airspeed_kt",
        ),
        ("[standards.a]\naltitude_ft = 'lots'", "(got 'lots')"),
        ("[standards.a]\naltitude_ft = nan", "standards.a.altitude_ft"),
        (
            "[limits]\nuntrimed_control = 1",
            "limits.untrimed_control: no such limit; did you mean untrimmed_control?",
        ),
        ("[limits]\nuntrimmed_control = inf", "limits.untrimmed_control"),
        (
            "[limits]\nhold_share = 95",
            "limits.hold_share: must be above 0 and at most 1, in fraction (got 95)",
        ),
        ("[limits]\ntrim_settle_hold_s = 0", "must be above 0, in s (got 0)"),
        ("[limits]\nminimum_students = 0.5", "must be 1 or more, in students (got 0.5)"),
        ("[limits]\nraise_z = 84", "must be from -6 to 6 (got 84)"),
        ("[limits]\nis_shown = 0.5", "must be 0 or 1 (got 0.5)"),
        (
            "[stages]\nsolo = 'first_lesson'",
            "stages.solo: no standard named 'first_lesson'; did you mean",
        ),
        ("[landing]\nmax_log_mb = -1", "landing.max_log_mb"),
        ("a = x\n", "line 1"),
    ],
)
def test_a_fault_is_named_with_its_key(tmp_path: Path, text: str, sentence: str) -> None:
    with pytest.raises(SettingsError) as caught:
        _load(tmp_path, text, standards=("first_lessons",))
    assert sentence in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_limit_as_it_is_shipped_may_be_set(tmp_path: Path) -> None:
    con = connect()
    build(con, ["settings"])
    shipped = con.execute("SELECT name, value FROM settings").fetchall()
    file = tmp_path / "school.toml"
    file.write_text("[limits]\n" + "\n".join(f"{name} = {value}" for name, value in shipped))
    assert load_settings(file, limit_units()).limits == dict(shipped)


def test_all_faults_are_named_at_once(tmp_path: Path) -> None:
    with pytest.raises(SettingsError) as caught:
        _load(tmp_path, "school_nam = 'x'\n[standards.a]\nheading_deg = -5\n")
    assert "school_nam" in str(caught.value)
    assert "heading_deg" in str(caught.value)
