"""A profile that cannot be used says every fault: the file, the key, what is wrong, the nearest name."""

from pathlib import Path

import pytest

from pipeline.errors import SettingsError
from pipeline.land.profiles import load_profile, read_profiles
from pipeline.land.profiles.folder import digest_of_profile
from pipeline.land.profiles.units import factor_to
from tests.recorders import ELAPSED, TWO_CHANNELS, profile_of

SHIPPED = Path(__file__).parents[2] / "sample_warehouse" / "profiles"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[text]\ndelimitr = ';'\n", "text.delimitr: no such key; did you mean delimiter?"),
        ("[tekst]\n", "tekst: no such key; did you mean text?"),
        ("[text]\ndecimal = ','\n", "text: delimiter and decimal are the same character"),
        ("[text]\nencoding = 'ebcdic'\n", "text.encoding: Input should be 'utf-8', 'utf-16'"),
        ("[text]\npreamble_lines = -1\n", "text.preamble_lines: Input should be greater"),
        ("[heading]\nreference = 'true'\n", "heading: a true heading needs one of variation_deg"),
        ("[heading]\nvariation_deg = 4\n", "heading: a magnetic heading takes no variation"),
        (
            "[heading]\nreference = 'true'\nlatitude_deg = 60\n",
            "heading: a place needs both latitude and longitude",
        ),
        ("[altitude]\nreference = 'pressure'\n", "altitude: a pressure altitude needs setting"),
        ("[altitude]\nreference = 'gps'\n", "altitude.reference: Input should be 'indicated'"),
    ],
)
def test_a_fault_outside_time_and_channels_is_named(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(SettingsError) as raised:
        profile_of(tmp_path, text + ELAPSED + TWO_CHANNELS)
    assert words in str(raised.value)
    assert str(raised.value).startswith(f"{tmp_path.name}/moth.toml: ")


@pytest.mark.parametrize(
    ("time", "words"),
    [
        ("", "time: is missing"),
        ("[time]\nform = 'clock'\ncolumn = 't'\n", "zone is missing: a clock without one tells no"),
        ("[time]\nform = 'iso'\ncolumn = 't'\nunit = 's'\n", "unit does not belong to the form"),
        ("[time]\nform = 'iso'\ncolumn = 't'\nzone = 'Oslo'\n", "time.zone: 'Oslo' is no zone"),
        (
            "[time]\nform = 'date_and_clock'\ncolumn = 't'\nzone = 'UTC'\n",
            "date_column is missing",
        ),
        ("[time]\nform = 'sundial'\ncolumn = 't'\n", "time.form: Input should be 'elapsed'"),
    ],
)
def test_a_fault_of_the_time_is_named(tmp_path: Path, time: str, words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        profile_of(tmp_path, time + TWO_CHANNELS)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("altitud_ft = {column = 'a'}", "altitud_ft: no such channel; did you mean altitude_ft?"),
        ("bank_deg = {column = 'b', unit = 'm'}", "bank_deg.unit: 'm' does not measure what 'deg'"),
        ("bank_deg = {column = 'b', unit = 'm**9**9'}", "bank_deg.unit: 'm**9**9' is no unit"),
        (
            "bank_deg = {column = 'b', unit = 'wag'}",
            "bank_deg.unit: 'wag' is no unit that is known",
        ),
        (
            "bank_deg = {column = 'b', full = 9}",
            "bank_deg.full: has no meaning for a channel in deg",
        ),
        ("autopilot = {column = 'b', unit = 's'}", "autopilot.unit: has no meaning for a switch"),
        ("power = {column = 'b', full = 0}", "power.full: is the same reading as zero"),
        ("power = {column = 'b', true = ['y']}", "power.true: has no meaning for a number"),
        ("power = {column = 'b', sign = 2}", "channels.power.sign: Input should be 1 or -1"),
        ("power = {colum = 'b'}", "channels.power.colum: no such key; did you mean column?"),
    ],
)
def test_a_fault_of_a_channel_is_named(tmp_path: Path, line: str, words: str) -> None:
    with pytest.raises(SettingsError) as raised:
        profile_of(tmp_path, f"{ELAPSED}{TWO_CHANNELS}{line}\n")
    assert words in str(raised.value)


def test_every_fault_is_named_at_once(tmp_path: Path) -> None:
    text = (
        "[text]\ndelimitr = ';'\n[time]\nform = 'clock'\ncolumn = 't'\n"
        "[channels]\naltitude_ft = {column = 'a', unit = 'kg'}\n"
    )
    with pytest.raises(SettingsError) as raised:
        profile_of(tmp_path, text)
    for words in ("no such key", "zone is missing", "'kg'", "heading_deg: the required channel"):
        assert words in str(raised.value)


def test_broken_toml_names_its_line_and_a_reserved_or_unsafe_name_is_refused(
    tmp_path: Path,
) -> None:
    with pytest.raises(SettingsError, match="at line 1"):
        profile_of(tmp_path, "[time\n")
    with pytest.raises(SettingsError, match="is the form without a profile; rename it"):
        profile_of(tmp_path, ELAPSED + TWO_CHANNELS, name="canonical")
    with pytest.raises(SettingsError, match="starts like a spreadsheet formula"):
        profile_of(tmp_path, ELAPSED + TWO_CHANNELS, name="=moth")


def test_the_shipped_profiles_are_valid() -> None:
    found = [load_profile(path) for path in sorted(SHIPPED.glob("*.toml"))]
    assert len(found) == 3
    assert all(profile.about for profile in found)


def test_one_faulty_profile_spoils_no_other(tmp_path: Path) -> None:
    folder = tmp_path / "profiles"
    folder.mkdir()
    profile_of(folder, ELAPSED + TWO_CHANNELS, name="moth")
    (folder / "wasp.toml").write_text("[time\n")
    found = read_profiles(tmp_path)
    assert list(found.usable) == ["moth"]
    assert "cannot be used" in found.why_not("wasp")
    assert "did you mean moth?" in found.why_not("mothe")


def test_a_fingerprint_changes_with_what_a_profile_says_and_not_with_its_remarks(
    tmp_path: Path,
) -> None:
    plain = profile_of(tmp_path, ELAPSED + TWO_CHANNELS)
    remarked = profile_of(tmp_path, 'about = "a remark"\n' + TWO_CHANNELS + ELAPSED)
    other = profile_of(tmp_path, ELAPSED + TWO_CHANNELS + 'power = {column = "p"}\n')
    assert digest_of_profile(plain) == digest_of_profile(remarked)
    assert digest_of_profile(plain) != digest_of_profile(other)


@pytest.mark.parametrize("unit", ["m", "ft", "foot", "km", "fpm", "mile"])
def test_a_unit_leads_there_and_back(unit: str) -> None:
    wanted = "ft/min" if unit == "fpm" else "ft"
    assert factor_to(unit, wanted) * factor_to(wanted, unit) == pytest.approx(1, rel=1e-14)
