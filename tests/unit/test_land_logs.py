"""What a log's faults come to: NULLs that are counted, rows left out, or a refusal with every reason."""

import gzip
import io
import json
import math
import random
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.land.faults import RefusedFile
from pipeline.land.log_bytes import unpack
from pipeline.reports import Reason
from pipeline.settings import Landing, Settings
from tests.inboxes import School, gates_of, log_text, rules_of, school_with, session_line


def _spoil(count: int, cells: dict[int, Any], value: float = 4000) -> list[Any]:
    return [cells.get(i, value + i % 7) for i in range(count)]


def _land(tmp_path: Path, text: str | bytes, ending: str = ".csv") -> School:
    school = school_with(tmp_path, "S1")
    (school.inbox / "logs/S1.csv").unlink()
    school.put(f"logs/S1{ending}", text)
    return school


def _only_reason(school: School) -> Reason:
    (refusal,) = school.night().refusals
    (reason,) = refusal.reasons
    return reason


def test_a_clean_log_lands_whole(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text(power=[0.65] * 200, autopilot=["true", "false"] * 100))
    report = school.night()
    assert [landed.session_id for landed in report.landed] == ["S1"]
    assert not report.refusals
    session = school.session()
    assert session["sample_count"] == 200
    assert session["duration_s"] == pytest.approx(49.75)
    assert session["observed_s"] == pytest.approx(49.75)
    assert (session["median_step_s"], session["gap_limit_s"]) == (0.25, 1.5)
    assert session["gates"] == []
    assert session["channels"][:2] == ["altitude_ft", "heading_deg"]
    assert session["sparse_channels"] == []
    samples = school.samples()
    assert [row["t_ms"] for row in samples[:3]] == [0, 250, 500]
    assert samples[1]["altitude_ft"] == 4001
    assert samples[1]["autopilot"] is False
    assert samples[1]["pitch_deg"] is None


@pytest.mark.parametrize(
    ("text", "rule", "words"),
    [
        ("", "empty_file", "the file is empty"),
        ("\n\n", "empty_file", "the file is empty"),
        ("time_s,altitude_ft,heading_deg\n", "header_only", "no row below it"),
        (b"\x89PNG\r\n\x00\x01\x02", "not_text", "zero bytes"),
        (log_text().replace(",", ";"), "wrong_delimiter", "separated by ';'"),
        (log_text().replace(",", "\t"), "wrong_delimiter", "separated by '\\t'"),
        (log_text().encode("utf-16"), "wrong_encoding", "UTF-16"),
        (log_text(note=["é"] * 200).encode("latin-1"), "wrong_encoding", "0xe9 is not UTF-8"),
        (log_text(heading_deg=None), "missing_column", "column heading_deg"),
        (log_text(time_s=None), "missing_column", "column time_s"),
        (log_text(altitude_ft=[""] * 200), "all_null", "column altitude_ft"),
        (log_text(heading_deg=["nan"] * 200), "all_null", "no value can be used"),
        (log_text(time_s=[""] * 200), "no_time", "200 of 200 rows have no usable time"),
        (log_text(time_s=[1.77e9 + i for i in range(200)]), "no_time", "belongs in timestamp"),
        (log_text(time_s=[50 - i / 4 for i in range(200)]), "time_backwards", "199 of 200 rows"),
        (log_text(time_s=[i // 2 for i in range(200)]), "time_repeats", "100 of 200 rows"),
        (log_text().replace("altitude_ft", "Altitude ft"), "missing_column", "may be meant"),
        (log_text().replace("vertical_speed_fpm", "altitude_ft"), "column_twice", "appears twice"),
        (log_text().replace("\n", ",9\n").replace("fpm,9", "fpm"), "row_length", "200 of 200"),
    ],
)
def test_a_hopeless_log_is_refused_with_its_rule(
    tmp_path: Path, text: str | bytes, rule: str, words: str
) -> None:
    school = _land(tmp_path, text)
    reason = _only_reason(school)
    assert reason.rule == rule
    assert words in reason.sentence
    assert reason.sentence.startswith("logs/S1.csv")
    assert "\n" not in reason.sentence
    assert school.rows("sessions") == []


def test_a_refused_log_is_quarantined_with_all_its_reasons(tmp_path: Path) -> None:
    text = log_text(
        altitude_ft=_spoil(200, dict.fromkeys(range(20), "n/a")),
        heading_deg=[999] * 200,
        time_s=[0, *(200 - i for i in range(199))],
    )
    school = _land(tmp_path, text)
    (refusal,) = school.night().refusals
    assert {r.rule for r in refusal.reasons} == {"bad_values", "all_null", "time_backwards"}
    assert refusal.quarantined_as == "quarantine/2026-03-28/logs/S1.csv"
    copy = school.store.root / refusal.quarantined_as
    assert copy.read_text() == text
    noted = json.loads(copy.with_name("S1.csv.reason.json").read_text())
    assert [Reason(**entry) for entry in noted] == list(refusal.reasons)
    assert noted[0].keys() == {"rule", "file", "row", "column", "value", "sentence"}


def test_a_truncated_gzip_log_is_refused_and_a_whole_one_lands(tmp_path: Path) -> None:
    whole = gzip.compress(log_text().encode())
    school = _land(tmp_path, whole[:-20], ".csv.gz")
    assert rules_of(school.night()) == ["truncated_gzip"]
    school.put("logs/S1.csv.gz", whole[:300] + b"\xff\xff" + whole[302:])
    assert rules_of(school.night()) == ["damaged_gzip"]
    school.put("logs/S1.csv.gz", gzip.compress(log_text(100).encode()) + b"\0\0")
    assert len(school.night().landed) == 1
    assert school.session()["sample_count"] == 100


def test_members_and_padding_of_a_gzip_log_are_its_text_wherever_it_is_cut() -> None:
    """As Python's own reader has it; and many members cost no more than their bytes."""
    parts = [random.Random(1).randbytes(70_000), b"", b"a" * 4_000_000, b"end"]
    packed = b"".join(gzip.compress(part) + b"\0" * (len(part) % 3) for part in parts)
    assert unpack(packed, "S1.csv.gz", 100) == gzip.decompress(packed) == b"".join(parts)
    assert unpack(packed + gzip.compress(b"") * 100_000, "S1.csv.gz", 100) == b"".join(parts)
    for cut in (1, 9, 60_000, 70_000, 72_000):
        with pytest.raises(RefusedFile, match="cut off"):
            unpack(packed[:cut], "S1.csv.gz", 100)


def test_a_gzip_bomb_is_refused_within_the_limit(tmp_path: Path) -> None:
    school = _land(tmp_path, gzip.compress(b"0" * 30_000_000), ".csv.gz")
    report = school.night(settings=Settings(landing=Landing(max_log_mb=5)))
    assert rules_of(report) == ["too_large"]
    assert "landing.max_log_mb" in report.refusals[0].reasons[0].sentence


def _parquet(columns: dict[str, Any]) -> bytes:
    sink = io.BytesIO()
    pq.write_table(pa.table(columns), sink)
    return sink.getvalue()


def test_a_parquet_log_lands_and_its_rows_are_counted_from_one(tmp_path: Path) -> None:
    altitude = [4000.0 + i % 7 for i in range(200)]
    altitude[3] = math.nan
    columns = {
        "time_s": [i / 4 for i in range(200)],
        "altitude_ft": altitude,
        "heading_deg": pa.array([90 + i % 3 for i in range(200)], pa.int16()),
        "autopilot": [None, True] * 100,
    }
    school = _land(tmp_path, _parquet(columns), ".parquet")
    assert not school.night().refusals
    samples = school.samples()
    assert samples[3]["altitude_ft"] is None
    assert samples[4]["heading_deg"] == 91
    assert (samples[0]["autopilot"], samples[1]["autopilot"]) == (None, True)
    gate = gates_of(school.session())["values_nulled", "altitude_ft"]
    assert "in row 4" in gate["detail"]


@pytest.mark.parametrize("cut", [0, 4, 500, 2000])
def test_a_truncated_parquet_log_is_refused(tmp_path: Path, cut: int) -> None:
    columns = {
        name: [float(i) for i in range(900)] for name in ("time_s", "altitude_ft", "heading_deg")
    }
    school = _land(tmp_path, _parquet(columns)[:cut], ".parquet")
    assert rules_of(school.night()) == ["damaged_parquet" if cut else "empty_file"]


def test_a_parquet_log_of_a_billion_rows_in_few_bytes_is_refused_unread(tmp_path: Path) -> None:
    sink = io.BytesIO()
    column = pa.array(np.zeros(5_000_000, np.float32))
    names = ["time_s", "altitude_ft", "heading_deg"]
    pq.write_table(pa.table([column] * 3, names=names), sink, compression="zstd")
    school = _land(tmp_path, sink.getvalue(), ".parquet")
    report = school.night(settings=Settings(landing=Landing(max_log_mb=50)))
    assert rules_of(report) == ["too_large"]


def test_parquet_columns_of_a_wrong_kind_are_named(tmp_path: Path) -> None:
    naive = datetime(2026, 3, 14)  # noqa: DTZ001
    columns = {"timestamp": [naive], "altitude_ft": [[1.0]], "heading_deg": [1.0]}
    school = _land(tmp_path, _parquet(columns), ".parquet")
    assert sorted(rules_of(school.night())) == ["no_offset", "wrong_type"]


@pytest.mark.parametrize(
    "bad", ["", "abc", "nan", "inf", "-inf", "60001", "-2001", "1_000", "0x10"]
)
def test_a_value_that_is_no_measurement_becomes_null_and_is_counted(
    tmp_path: Path, bad: str
) -> None:
    school = _land(tmp_path, log_text(altitude_ft=_spoil(200, {5: bad, 9: bad})))
    assert not school.night().refusals
    samples = school.samples()
    assert samples[5]["altitude_ft"] is None
    assert samples[6]["altitude_ft"] == 4006
    gate = gates_of(school.session()).get(("values_nulled", "altitude_ft"))
    if not bad:
        assert gate is None
        return
    assert gate is not None
    assert (gate["affected"], gate["severity"]) == (2, "warning")
    assert (gate["from_s"], gate["to_s"]) == (1.25, 2.25)
    assert f"'{bad}', in line 7" in gate["detail"]


@pytest.mark.parametrize("limit", ["60000", "-2000", "+12.5", " 7 ", '"8"', "1e3"])
def test_a_value_on_the_limit_or_spelled_otherwise_is_a_value(tmp_path: Path, limit: str) -> None:
    altitude = float(limit.strip(' "'))
    # The whole log stays there: one such sample among others would be a spike.
    cells = _spoil(200, {5: limit}, altitude - 7 if altitude > 59_000 else altitude)
    school = _land(tmp_path, log_text(altitude_ft=cells))
    school.night()
    assert school.samples()[5]["altitude_ft"] == altitude
    assert school.session()["gates"] == []


def test_controls_on_their_limit_survive_the_step_to_float32(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text(pitch_control=[1.05] * 200, power=[1.2] * 200))
    school.night()
    assert school.session()["gates"] == []


@pytest.mark.parametrize(("bad", "is_refused"), [(10, False), (11, True)])
def test_over_five_percent_bad_values_of_a_required_channel_refuse_the_log(
    tmp_path: Path, bad: int, is_refused: bool
) -> None:
    school = _land(tmp_path, log_text(heading_deg=_spoil(200, dict.fromkeys(range(bad), 721), 90)))
    assert rules_of(school.night()) == (["bad_values"] if is_refused else [])


def test_an_optional_channel_that_is_mostly_bad_is_suspect_and_lands(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text(airspeed_kt=["?"] * 50 + [100] * 150, on_ground=["x"] * 200))
    assert not school.night().refusals
    session = school.session()
    assert gates_of(session)["values_nulled", "airspeed_kt"]["severity"] == "suspect"
    assert gates_of(session)["values_nulled", "on_ground"]["affected"] == 200
    assert "on_ground" not in session["channels"]
    assert session["sparse_channels"] == ["airspeed_kt"]


@pytest.mark.parametrize(
    ("heading", "stored"),
    [
        (360, 0.0),
        (-360, 0.0),
        (720, 0.0),
        (-10, 350.0),
        (365.5, 5.5),
        (359.9999999, 0.0),
        (-1e-9, 0.0),
    ],
)
def test_a_heading_is_stored_from_0_to_below_360(
    tmp_path: Path, heading: float, stored: float
) -> None:
    school = _land(tmp_path, log_text(heading_deg=[heading, *range(1, 200)]))
    school.night()
    assert school.samples()[0]["heading_deg"] == pytest.approx(stored, abs=1e-6)
    assert 0 <= school.samples()[0]["heading_deg"] < 360


def _with_time(changes: dict[int, float], count: int = 400) -> dict[str, Any]:
    return {"count": count, "time_s": [changes.get(i, i / 4) for i in range(count)]}


@pytest.mark.parametrize(
    ("changes", "gate", "line"),
    [
        ({100: 1.0}, "time_backwards", 102),
        ({100: 24.75}, "time_repeats", 102),
        ({100: 5000.0}, "time_backwards", 102),
    ],
)
def test_a_row_that_time_does_not_allow_is_left_out_and_counted(
    tmp_path: Path, changes: dict[int, float], gate: str, line: int
) -> None:
    school = _land(tmp_path, log_text(**_with_time(changes)))
    assert not school.night().refusals
    session = school.session()
    assert session["sample_count"] == 399
    found = gates_of(session)[gate, None]
    assert found["affected"] == 1
    assert f"in line {line};" in found["detail"]
    assert 25_000 not in [row["t_ms"] for row in school.samples()]


@pytest.mark.parametrize(("bad", "is_refused"), [(4, False), (5, True)])
def test_over_one_percent_of_disorder_refuses_the_log(
    tmp_path: Path, bad: int, is_refused: bool
) -> None:
    school = _land(tmp_path, log_text(**_with_time({20 * i: 0.1 for i in range(1, bad + 1)})))
    assert rules_of(school.night()) == (["time_backwards"] if is_refused else [])


def test_exact_duplicates_are_dropped_wherever_they_stand(tmp_path: Path) -> None:
    heading, *rows = log_text().splitlines()
    text = "\n".join([heading, *rows, rows[7], *rows])
    school = _land(tmp_path, text)
    assert not school.night().refusals
    session = school.session()
    assert session["sample_count"] == 200
    assert gates_of(session)["duplicate_rows", None]["affected"] == 201
    assert len(session["gates"]) == 1


def test_rows_without_a_time_are_left_out(tmp_path: Path) -> None:
    times = [i / 4 for i in range(200)]
    school = _land(
        tmp_path, log_text(time_s=["" if i in (3, 4) else t for i, t in enumerate(times)])
    )
    school.night()
    assert school.session()["sample_count"] == 198
    assert gates_of(school.session())["time_unreadable", None]["affected"] == 2


def test_a_log_cut_off_in_its_last_line_lands_without_it(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text()[:-12])
    assert not school.night().refusals
    assert school.session()["sample_count"] == 199
    assert "in line 201" in gates_of(school.session())["rows_cut", None]["detail"]


def test_lines_are_counted_over_blank_lines_and_quoted_breaks(tmp_path: Path) -> None:
    heading, *rows = log_text(
        note=['"a\nb"', *["x"] * 199], altitude_ft=_spoil(200, {2: "abc"})
    ).split("\n")
    school = _land(tmp_path, "\n".join([heading, "", *rows]))
    school.night()
    # heading 1, blank 2, first row 3 and 4, second 5, the bad one 6
    assert "in line 6" in gates_of(school.session())["values_nulled", "altitude_ft"]["detail"]


@pytest.mark.parametrize("newline", ["\r\n", "\r"])
def test_other_line_ends_and_a_byte_order_mark_are_read(tmp_path: Path, newline: str) -> None:
    text = log_text(altitude_ft=_spoil(200, {2: "abc"})).replace("\n", newline)
    school = _land(tmp_path, b"\xef\xbb\xbf" + text.encode())
    assert not school.night().refusals
    assert "in line 4" in gates_of(school.session())["values_nulled", "altitude_ft"]["detail"]


def test_a_gap_is_kept_and_unobserved(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text(time_s=[i / 4 + (60 if i >= 100 else 0) for i in range(200)]))
    school.night()
    session = school.session()
    assert session["duration_s"] == pytest.approx(109.75)
    assert session["observed_s"] == pytest.approx(49.5)


def test_a_slow_recorder_has_a_wider_gap_limit(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text(time_s=list(range(200))))
    school.night()
    assert school.session()["gap_limit_s"] == 2.5


def test_a_slower_channel_is_sparse_and_no_fault(tmp_path: Path) -> None:
    slow = [100 + i // 4 % 2 if i % 4 == 0 else "" for i in range(200)]
    school = _land(tmp_path, log_text(airspeed_kt=slow))
    school.night()
    assert school.session()["sparse_channels"] == ["airspeed_kt"]
    assert school.session()["gates"] == []


def _clock(offset_h: int = 0, count: int = 200) -> list[str]:
    zone = timezone(timedelta(hours=offset_h))
    start = datetime(2026, 3, 14, 9, 0, 1, tzinfo=UTC).astimezone(zone)
    return [(start + timedelta(seconds=i / 4)).isoformat() for i in range(count)]


@pytest.mark.parametrize("offset_h", [0, 5])
def test_clock_times_become_seconds_from_the_start(tmp_path: Path, offset_h: int) -> None:
    school = _land(tmp_path, log_text(time_s=None, timestamp=_clock(offset_h)))
    school.night()
    assert [row["t_ms"] for row in school.samples()[:2]] == [1000, 1250]
    assert school.session()["time_column"] == "timestamp"


def test_clock_times_without_an_offset_are_refused(tmp_path: Path) -> None:
    naive = [stamp.removesuffix("+00:00") for stamp in _clock()]
    reason = _only_reason(_land(tmp_path, log_text(time_s=None, timestamp=naive)))
    assert reason.rule == "no_offset"
    assert "such as +01:00" in reason.sentence


def test_a_leap_second_and_text_among_clock_times_are_survived(tmp_path: Path) -> None:
    stamps = _clock()
    stamps[40] = stamps[40].replace(":11+", ":10.900+")
    stamps[50] = "later"
    # 23:59:60 is the published leap second of 2016-12-31 (IERS Bulletin C 52).
    stamps[199] = "2026-03-14T09:00:60Z"
    school = _land(tmp_path, log_text(time_s=None, timestamp=stamps))
    assert not school.night().refusals
    assert school.samples()[-1]["t_ms"] == 60_000
    assert gates_of(school.session())["time_unreadable", None]["affected"] == 1


def test_unknown_columns_are_named_once_for_the_run(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2", text=log_text(oil_temp=[90] * 200))
    assert school.night().ignored_columns == ("logs: oil_temp",)


def test_too_many_columns_are_refused(tmp_path: Path) -> None:
    text = log_text(3, **{f"c{i}": [0] * 3 for i in range(600)})
    assert _only_reason(_land(tmp_path, text)).rule == "too_many_columns"


def test_one_sample_lands_without_a_step(tmp_path: Path) -> None:
    school = _land(tmp_path, log_text(1))
    school.night()
    session = school.session()
    assert (session["median_step_s"], session["duration_s"], session["observed_s"]) == (None, 0, 0)


def test_a_bad_file_among_good_ones_stops_nothing(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2", "S3")
    school.put("logs/S2.csv", "no log at all")
    report = school.night()
    assert [landed.session_id for landed in report.landed] == ["S1", "S3"]
    assert [refusal.session_id for refusal in report.refusals] == ["S2"]


def test_control_characters_of_a_file_do_not_reach_a_sentence(tmp_path: Path) -> None:
    text = log_text(heading_deg=["\x1b[31mred" for _ in range(200)])
    reason = _only_reason(_land(tmp_path, text))
    assert "\x1b" not in reason.sentence + str(reason.value)


def test_a_session_lies_in_one_row_group_of_its_date(tmp_path: Path) -> None:
    school = school_with(tmp_path, "S1", "S2", "S3")
    late = session_line("S3", started_at="2026-03-14T23:30:00-05:00")
    school.sessions(session_line("S1"), session_line("S2"), late)
    school.night()
    found = {
        path.parent.name: pq.ParquetFile(path).num_row_groups
        for path in school.store.sample_files()
    }
    assert found == {"session_date=2026-03-14": 2, "session_date=2026-03-15": 1}
