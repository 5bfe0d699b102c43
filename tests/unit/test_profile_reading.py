"""A recorder's log as channels: text forms, units, signs, switches, which north, which altitude."""

import gzip
import io
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.land.profiles.north import decimal_year, declination_deg
from pipeline.land.rows import SessionRow
from pipeline.land.session_log import read_log
from pipeline.settings import Landing
from tests.inboxes import log_text
from tests.recorders import ELAPSED, TWO_CHANNELS, columns_text, profile_of, read_as, reasons_of

PLAIN = ELAPSED + TWO_CHANNELS
TEXT = columns_text(
    t=[i / 4 for i in range(40)], alt=[4000.5 + i % 7 for i in range(40)], hdg=[90.25] * 40
)
SEMICOLONS = TEXT.replace(",", ";").replace(".", ",")
METRIC = '[text]\ndelimiter = ";"\ndecimal = ","\n'


def _german(text: str) -> str:
    return f"Ü;ber\n{text}"


@pytest.mark.parametrize(
    ("form", "content"),
    [
        ("", TEXT.encode()),
        ("", b"\xef\xbb\xbf" + TEXT.encode()),
        ("", TEXT.replace("\n", "\r\n").encode()),
        ("", TEXT.replace("\n", "\r").encode()),
        ('[text]\ndelimiter = "\\t"\n', TEXT.replace(",", "\t").encode()),
        ('[text]\ndelimiter = "|"\n', TEXT.replace(",", "|").encode()),
        (METRIC, SEMICOLONS.encode()),
        ('[text]\nencoding = "utf-16"\n', TEXT.encode("utf-16")),
        ('[text]\nencoding = "utf-16"\n', b"\xfe\xff" + TEXT.encode("utf-16-be")),
        ('[text]\nencoding = "utf-16"\n', TEXT.encode("utf-16-le")),
        (
            METRIC + 'encoding = "latin-1"\npreamble_lines = 1\n',
            _german(SEMICOLONS).encode("latin-1"),
        ),
        ("[text]\npreamble_lines = 2\n", f'a "free" text\n\n{TEXT}'.encode()),
        ("[text]\nlines_below_heading = 1\n", TEXT.replace("\n", "\ns,ft,deg\n", 1).encode()),
    ],
)
def test_the_same_log_in_any_form_of_text_is_the_same(
    tmp_path: Path, form: str, content: bytes
) -> None:
    log = read_as(profile_of(tmp_path, form + PLAIN), content)
    assert log.t_ms.tolist() == [250 * i for i in range(40)]
    assert log.values["altitude_ft"].tolist() == [4000.5 + i % 7 for i in range(40)]
    assert (log.values["heading_deg"] == 90.25).all()
    assert [gate.gate for gate in log.gates] == ["read_with_profile"]


def _parquet(**columns: Sequence[Any]) -> bytes:
    sink = io.BytesIO()
    pq.write_table(pa.table(columns), sink)
    return sink.getvalue()


def test_gzip_and_parquet_logs_are_read_with_a_profile_too(tmp_path: Path) -> None:
    profile = profile_of(tmp_path, METRIC + PLAIN)
    packed = read_as(profile, gzip.compress(SEMICOLONS.encode()), ".csv.gz")
    columns: dict[str, list[float]] = {
        "t": [i / 4 for i in range(40)],
        "alt": [4000 + i for i in range(40)],
    }
    table = read_as(profile, _parquet(**columns, hdg=[90.25] * 40, other=["x"] * 40), ".parquet")
    assert packed.t_ms.tolist() == table.t_ms.tolist()
    assert table.values["altitude_ft"][39] == 4039
    assert table.ignored == ("other",)
    (reason,) = reasons_of(profile, _parquet(**columns, hdg=[[1.0]] * 40), ".parquet")
    assert (reason.rule, reason.column) == ("wrong_type", "hdg")


@pytest.mark.parametrize(
    ("line", "cells", "channel", "wanted"),
    [
        (
            'altitude_ft = {column = "alt", unit = "m"}',
            [1000, 1200],
            "altitude_ft",
            [3280.84, 3937.008],
        ),
        (
            'altitude_ft = {column = "alt", unit = "km"}',
            [1, 1.2],
            "altitude_ft",
            [3280.84, 3937.008],
        ),
        (
            'heading_deg = {column = "hdg", unit = "rad"}',
            [1, -1],
            "heading_deg",
            [57.29578, 302.70422],
        ),
        ('vertical_speed_fpm = {column = "c", unit = "m/s"}', [1, -2], "", [196.8504, -393.7008]),
        ('airspeed_kt = {column = "c", unit = "km/h"}', [185.2, 0], "", [100, 0]),
        ('airspeed_kt = {column = "c", unit = "m/s"}', [51.44444, 0], "", [100, 0]),
        ('pitch_force = {column = "c", unit = "lbf"}', [1, -1], "", [4.448222, -4.448222]),
        ('bank_deg = {column = "c", sign = -1}', [5, -5], "", [-5, 5]),
        (
            'bank_deg = {column = "c", unit = "rad", sign = -1}',
            [0.5, -0.5],
            "",
            [-28.64789, 28.64789],
        ),
        ('pitch_control = {column = "c", unit = "percent"}', [50, -100], "", [0.5, -1]),
        ('pitch_control = {column = "c", zero = 2048, full = 4095}', [2048, 1], "", [0, -1]),
        ('pitch_control = {column = "c", unit = "deg", full = -18}', [-9, 18], "", [0.5, -1]),
        (
            'pitch_trim = {column = "c", unit = "percent", zero = 50, full = 100}',
            [0, 75],
            "",
            [-1, 0.5],
        ),
        ('pitch_trim = {column = "c", unit = "percent", zero = 50}', [0, 75], "", [-0.5, 0.25]),
        ('power = {column = "c", unit = "fraction"}', [0.65, 1], "", [0.65, 1]),
    ],
)
def test_units_signs_and_full_travel_become_the_channels(
    tmp_path: Path, line: str, cells: list[float], channel: str, wanted: list[float]
) -> None:
    name = channel or line.split(" ", 1)[0]
    channels = (
        TWO_CHANNELS
        if not channel
        else "\n".join(kept for kept in TWO_CHANNELS.splitlines() if not kept.startswith(channel))
    )
    columns: dict[str, list[float]] = {"t": [0, 1], "alt": [4000, 4000], "hdg": [90, 90]}
    columns[{"altitude_ft": "alt", "heading_deg": "hdg"}.get(channel, "c")] = cells
    profile = profile_of(tmp_path, f"{ELAPSED}{channels}\n{line}\n")
    log = read_as(profile, columns_text(**columns))
    assert log.values[name].tolist() == pytest.approx(wanted, rel=1e-6)


def test_a_profile_that_changes_nothing_reads_what_the_canonical_reader_reads(
    tmp_path: Path,
) -> None:
    names = ("altitude_ft", "heading_deg", "vertical_speed_fpm")
    lines = "".join(f'{name} = {{column = "{name}"}}\n' for name in names)
    text = log_text(200, altitude_ft=["x" if i == 9 else 4000 + i for i in range(200)])
    time = ELAPSED.replace('"t"', '"time_s"')
    ours = read_as(profile_of(tmp_path, f"{time}[channels]\n{lines}"), text)
    row = SessionRow("S1", "TH01", datetime(2026, 3, 14, 9, tzinfo=UTC))
    plain = read_log(text.encode(), "logs/S1.csv", ".csv", row, Landing())
    assert ours.t_ms.tolist() == plain.t_ms.tolist()
    for name in names:
        assert np.array_equal(ours.values[name], plain.values[name], equal_nan=True)


def test_switches_understand_the_recorders_words(tmp_path: Path) -> None:
    line = 'on_ground = {column = "wow", true = ["GND"], false = ["AIR"]}\n'
    profile = profile_of(tmp_path, PLAIN + line)
    words = ["GND", "AIR", " AIR ", "1", "?"]
    text = columns_text(t=range(5), alt=[4000] * 5, hdg=[90] * 5, wow=words)
    log = read_as(profile, text)
    assert np.nan_to_num(log.values["on_ground"], nan=9).tolist() == [1, 0, 0, 1, 9]
    (gate,) = (g for g in log.gates if g.gate == "values_nulled")
    assert gate.channel == "on_ground"
    assert "'?'" in gate.detail


def test_blank_words_are_no_value_and_other_words_are_counted(tmp_path: Path) -> None:
    profile = profile_of(tmp_path, '[text]\nblanks = ["---", "n/a"]\n' + PLAIN)
    altitude = ["---", "n/a", "", "broken", *range(4000, 4096)]
    text = columns_text(t=range(100), alt=altitude, hdg=[90] * 100)
    log = read_as(profile, text)
    assert np.isnan(log.values["altitude_ft"][:4]).all()
    (gate,) = (g for g in log.gates if g.gate == "values_nulled")
    assert gate.affected == 1
    assert "'broken', in line 5" in gate.detail


def test_a_fault_is_told_by_the_recorders_column_line_and_value(tmp_path: Path) -> None:
    form = METRIC + "preamble_lines = 2\nlines_below_heading = 1\n"
    channels = TWO_CHANNELS.replace('"alt"', '"alt", unit = "m"')
    profile = profile_of(tmp_path, form + ELAPSED + channels)
    rows = [f"{i};{'25000,5' if i < 9 else '1000'};90" for i in range(100)]
    text = "\n".join(["made by", "nobody", "t;alt;hdg", "s;m;deg", *rows])
    (reason,) = reasons_of(profile, text)
    assert (reason.rule, reason.row, reason.column, reason.value) == (
        "bad_values",
        5,
        "alt",
        "25000.5",
    )
    assert "are not a number from -2000 to 60000 ft as altitude_ft" in reason.sentence


@pytest.mark.parametrize(
    ("content", "rule", "words"),
    [
        (TEXT.replace("alt", "Alt"), "missing_column", "did you mean Alt?"),
        (TEXT.replace("hdg", "t"), "column_twice", "(the time) appears 2 times"),
        (TEXT.replace(",", ";"), "wrong_delimiter", "the profile splits it at ','"),
        ("t,alt,hdg\n", "header_only", "no row below it"),
        ("", "empty_file", "the file is empty"),
        (TEXT.encode("utf-16"), "wrong_encoding", "UTF-16"),
        (TEXT.replace("90.25", "é").encode("latin-1"), "wrong_encoding", "0xe9"),
        (TEXT.encode() + b"\0", "not_text", "zero bytes"),
    ],
)
def test_a_log_that_does_not_fit_is_refused_with_its_rule(
    tmp_path: Path, content: str | bytes, rule: str, words: str
) -> None:
    profile = profile_of(tmp_path, PLAIN)
    found = reasons_of(profile, content)
    assert rule in [reason.rule for reason in found]
    assert words in " ".join(reason.sentence for reason in found)


@pytest.mark.parametrize(
    ("form", "content", "words"),
    [
        ('encoding = "utf-16"', TEXT.encode("utf-16")[:-1], "the text is not utf-16"),
        ('encoding = "utf-16"', b"\xef\xbb\xbf" + TEXT.encode(), "tell of another encoding"),
        ('encoding = "latin-1"', TEXT.encode("utf-16"), "tell of another encoding"),
        ("preamble_lines = 90", TEXT.encode(), "ends within the 90 lines"),
    ],
)
def test_a_text_in_another_form_than_the_profiles_is_refused(
    tmp_path: Path, form: str, content: bytes, words: str
) -> None:
    (reason,) = reasons_of(profile_of(tmp_path, f"[text]\n{form}\n{PLAIN}"), content)
    assert words in reason.sentence


def test_a_column_that_the_log_lacks_is_noted_and_its_channel_absent(tmp_path: Path) -> None:
    log = read_as(profile_of(tmp_path, PLAIN + 'power = {column = "torque"}\n'), TEXT)
    assert "power" not in log.channels
    (gate,) = (g for g in log.gates if g.gate == "column_absent")
    assert "'torque'" in gate.detail


def _headings(tmp_path: Path, north: str, **columns: list[float]) -> list[float]:
    profile = profile_of(tmp_path, f"[heading]\nreference = 'true'\n{north}\n{PLAIN}")
    count = len(columns["hdg"])
    text = columns_text(t=range(count), alt=[4000] * count, **columns)
    return [float(v) for v in read_as(profile, text).values["heading_deg"]]


def test_true_headings_become_magnetic(tmp_path: Path) -> None:
    fixed = _headings(tmp_path, "variation_deg = 4.5", hdg=[90, 2, 355])
    assert fixed == pytest.approx([85.5, 357.5, 350.5])
    west = _headings(tmp_path, "variation_deg = -4.5", hdg=[90, 358])
    assert west == pytest.approx([94.5, 2.5])
    year = decimal_year(datetime(2026, 3, 14, tzinfo=UTC).date())
    by_model = 90 - declination_deg(60.25, 10.75, year)
    placed = _headings(tmp_path, "latitude_deg = 60.25\nlongitude_deg = 10.75", hdg=[90, 90])
    assert placed == pytest.approx([by_model] * 2, abs=0.01)
    columns = 'latitude_column = "lat"\nlongitude_column = "lon"'
    tracked = _headings(tmp_path, columns, hdg=[90, 90], lat=[60.25, 60.25], lon=[10.75, 10.75])
    assert tracked == pytest.approx([by_model] * 2, abs=0.01)


def test_a_true_heading_without_any_position_is_refused(tmp_path: Path) -> None:
    north = "[heading]\nreference = 'true'\nlatitude_column = 'lat'\nlongitude_column = 'lon'\n"
    text = columns_text(t=[0, 1], alt=[1, 2], hdg=[1, 2], lat=["", ""], lon=["", ""])
    (reason,) = reasons_of(profile_of(tmp_path, north + PLAIN), text)
    assert reason.rule == "no_variation"
    assert "no row has a position" in reason.sentence


def test_pressure_altitude_becomes_indicated(tmp_path: Path) -> None:
    setting = '[altitude]\nreference = "pressure"\nsetting_column = "baro"\nsetting_unit = "inHg"\n'
    text = columns_text(t=range(4), alt=[5000] * 4, hdg=[90] * 4, baro=["", 30.5, "", 29.0])
    log = read_as(profile_of(tmp_path, setting + PLAIN), text)
    # 14 CFR Part 43, Appendix E, Table IV: +531 ft at 30.50 inHg, -863 ft at 29.00 inHg.
    assert log.values["altitude_ft"].tolist() == pytest.approx([5531, 5531, 5531, 4137], abs=1.3)
    # The same settings in hPa: 1 inHg is 33.86389 hPa (NIST SP 811).
    metric = columns_text(t=range(4), alt=[5000] * 4, hdg=[90] * 4, baro=["", 1032.85, "", 982.05])
    read = read_as(profile_of(tmp_path, setting.replace("inHg", "hPa") + PLAIN), metric)
    assert read.values["altitude_ft"].tolist() == pytest.approx([5531, 5531, 5531, 4137], abs=1.3)
    fixed = '[altitude]\nreference = "pressure"\nsetting = 1013.25\n'
    same = read_as(profile_of(tmp_path, fixed + PLAIN), text)
    assert same.values["altitude_ft"].tolist() == [5000] * 4
    silent = columns_text(t=[0], alt=[5000], hdg=[90], baro=[0])
    (reason,) = reasons_of(profile_of(tmp_path, setting + PLAIN), silent)
    assert reason.rule == "no_setting"


def test_ragged_rows_are_left_out_by_their_line(tmp_path: Path) -> None:
    lines = TEXT.splitlines()
    lines[5] += ",9"
    text = "\n".join(["preamble", *lines])
    log = read_as(profile_of(tmp_path, "[text]\npreamble_lines = 1\n" + PLAIN), text)
    (gate,) = (g for g in log.gates if g.gate == "rows_cut")
    assert "the first in line 7" in gate.detail
    assert len(log.t_ms) == 39
