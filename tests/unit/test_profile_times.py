"""The time of every row by each form: elapsed, epoch, ISO 8601, date and clock, a clock alone."""

import io
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipeline.land.profiles.clocks import clock_times, days
from tests.recorders import STARTED_AT, TWO_CHANNELS, profile_of, read_as, reasons_of, timed_text

NINE = 1_773_478_800
"""2026-03-14 09:00:00 UTC in seconds since 1970."""


def _ms(
    tmp_path: Path,
    form: str,
    times: list[str],
    header: str = "t",
    started_at: datetime = STARTED_AT,
) -> list[int]:
    profile = profile_of(tmp_path, f"[time]\ncolumn = 't'\n{form}\n{TWO_CHANNELS}")
    return read_as(profile, timed_text(times, header), started_at=started_at).t_ms.tolist()


@pytest.mark.parametrize(
    ("form", "times", "wanted"),
    [
        ("form = 'elapsed'", ["0", "0.25", "1"], [0, 250, 1000]),
        ("form = 'elapsed'\nunit = 'ms'", ["0", "250", "1000"], [0, 250, 1000]),
        ("form = 'elapsed'\nunit = 'min'", ["0", "0.5"], [0, 30_000]),
        ("form = 'epoch'", [f"{NINE}", f"{NINE}.5"], [0, 500]),
        ("form = 'epoch'\nunit = 'ms'", [f"{NINE}000", f"{NINE}250"], [0, 250]),
        ("form = 'epoch'\nunit = 'us'", [f"{NINE}000000", f"{NINE}250000"], [0, 250]),
        ("form = 'iso'", ["2026-03-14T09:00:01Z", "2026-03-14 10:00:02+01:00"], [1000, 2000]),
        (
            "form = 'iso'\nzone = 'Europe/Oslo'",
            ["2026-03-14T10:00:01", "2026-03-14T10:00:02.5"],
            [1000, 2500],
        ),
        (
            "form = 'iso'\nzone = 'Europe/Oslo'",
            ["2026-03-14T10:00:01", "2026-03-14T09:00:02Z"],
            [1000, 2000],
        ),
        (
            "form = 'clock'\nzone = 'Europe/Oslo'",
            ["10:00:00", "10:00:00.25", "10:00:00,5"],
            [0, 250, 500],
        ),
        ("form = 'clock'\nzone = 'UTC'", ["090001", "9:00:02"], [1000, 2000]),
    ],
)
def test_times_count_from_the_sessions_start(
    tmp_path: Path, form: str, times: list[str], wanted: list[int]
) -> None:
    quoted = [f'"{text}"' for text in times]
    assert _ms(tmp_path, form, quoted) == wanted


@pytest.mark.parametrize(
    ("order", "dates"),
    [
        ("ymd", ["2026-03-14", "2026/03/15"]),
        ("dmy", ["14.03.2026", "15.3.26"]),
        ("mdy", ["03/14/2026", "3-15-2026"]),
        ("ymd", ["20260314", "260315"]),
    ],
)
def test_date_and_clock_columns_go_on_across_midnight(
    tmp_path: Path, order: str, dates: list[str]
) -> None:
    form = f"form = 'date_and_clock'\ndate_column = 'd'\ndate_order = '{order}'\nzone = 'UTC'"
    times = [f"{dates[0]},23:59:59.75", f"{dates[1]},00:00:00", f"{dates[1]},00:00:00.25"]
    start = datetime(2026, 3, 14, 23, 59, 59, tzinfo=UTC)
    assert _ms(tmp_path, form, times, "d,t", started_at=start) == [750, 1000, 1250]


def test_a_clock_alone_goes_on_across_midnight_and_may_begin_before_it(tmp_path: Path) -> None:
    form = "form = 'clock'\nzone = 'UTC'"
    times = ["23:59:59", "00:00:00", "00:00:01"]
    late = datetime(2026, 3, 14, 23, 59, 59, tzinfo=UTC)
    assert _ms(tmp_path, form, times, started_at=late) == [0, 1000, 2000]
    early = datetime(2026, 3, 15, 0, 0, 1, tzinfo=UTC)
    assert _ms(tmp_path, form, times, started_at=early) == [-2000, -1000, 0]


def test_the_hour_that_happens_twice_goes_on_and_the_skipped_one_is_no_time(tmp_path: Path) -> None:
    """America/New_York, tz database: 2025-11-02 01:30 twice; 2025-03-09 02:30 never."""
    form = "form = 'iso'\nzone = 'America/New_York'"
    start = datetime(2025, 11, 2, 5, 59, 58, tzinfo=UTC)
    local = ["2025-11-02T01:59:58", "2025-11-02T01:59:59", "2025-11-02T01:00:00"]
    assert _ms(tmp_path, form, local, started_at=start) == [0, 1000, 2000]
    profile = profile_of(tmp_path, f"[time]\ncolumn = 't'\n{form}\n{TWO_CHANNELS}")
    (reason,) = reasons_of(profile, timed_text(["2025-03-09T02:30:00"] * 3))
    assert (reason.rule, reason.value) == ("no_time", "2025-03-09T02:30:00")


def test_local_times_are_refused_unless_the_profile_names_their_zone(tmp_path: Path) -> None:
    profile = profile_of(tmp_path, f"[time]\nform = 'iso'\ncolumn = 't'\n{TWO_CHANNELS}")
    (reason,) = reasons_of(profile, timed_text(["2026-03-14T09:00:01", "2026-03-14T09:00:02"]))
    assert reason.rule == "no_offset"
    assert "2 of 2 times have no offset from UTC" in reason.sentence
    assert "name their zone in a profile" in reason.sentence


def test_a_time_that_is_none_is_counted_and_too_many_refuse_the_log(tmp_path: Path) -> None:
    form = "form = 'clock'\nzone = 'UTC'"
    good = [f"09:00:{i:02d}" for i in range(60)]
    profile = profile_of(tmp_path, f"[time]\ncolumn = 't'\n{form}\n{TWO_CHANNELS}")
    log = read_as(profile, timed_text([*good[:30], "noon", *good[30:]]))
    (gate,) = (g for g in log.gates if g.gate == "time_unreadable")
    assert gate.affected == 1
    assert "the first in line 32" in gate.detail
    (reason,) = reasons_of(profile, timed_text(["noon", *good[:9]]))
    assert (reason.rule, reason.value, reason.column) == ("no_time", "noon", "t")


def test_a_leap_second_is_survived(tmp_path: Path) -> None:
    """2016-12-31 23:59:60 UTC (IERS Bulletin C 52)."""
    start = datetime(2016, 12, 31, 23, 59, 58, tzinfo=UTC)
    times = ["23:59:58", "23:59:59", "23:59:60", "00:00:01"]
    assert _ms(tmp_path, "form = 'clock'\nzone = 'UTC'", times, started_at=start) == [
        0,
        1000,
        2000,
        3000,
    ]


def test_typed_times_of_parquet_are_read_in_every_form(tmp_path: Path) -> None:
    moments = [datetime(2026, 3, 14, 9, 0, i, tzinfo=UTC) for i in range(3)]
    others = {"alt": [4000, 4001, 4002], "hdg": [90, 90, 90]}

    def ms(form: str, **columns: object) -> list[int]:
        sink = io.BytesIO()
        pq.write_table(pa.table({**columns, **others}), sink)
        profile = profile_of(tmp_path, f"[time]\ncolumn = 't'\n{form}\n{TWO_CHANNELS}")
        return read_as(profile, sink.getvalue(), ".parquet").t_ms.tolist()

    naive = [m.replace(tzinfo=None) + timedelta(hours=1) for m in moments]
    clock = [time(9, 0, i) for i in range(3)]
    wanted = [0, 1000, 2000]
    assert ms("form = 'iso'", t=pa.array(moments, pa.timestamp("ms", "Europe/Oslo"))) == wanted
    assert ms("form = 'iso'\nzone = 'Europe/Oslo'", t=pa.array(naive, pa.timestamp("us"))) == wanted
    assert ms("form = 'clock'\nzone = 'UTC'", t=pa.array(clock, pa.time64("us"))) == wanted
    dated = "form = 'date_and_clock'\ndate_column = 'd'\nzone = 'UTC'\ndate_order = 'dmy'"
    assert ms(dated, t=pa.array(clock, pa.time32("s")), d=[date(2026, 3, 14)] * 3) == wanted
    assert ms("form = 'epoch'", t=pa.array([NINE, NINE + 1, NINE + 2])) == wanted


@pytest.mark.parametrize("text", ["", "noon", "25:00", "12:61", "-1:00", "12:00:61", "1200+01:00"])
def test_what_is_no_time_of_day_is_none(text: str) -> None:
    found = clock_times([text, None])
    assert [str(value) for value in found] == ["nan", "nan"]


@pytest.mark.parametrize(
    "text", ["", "14. March 2026", "2026-02-30", "2026-03", "1234567", "0-0-0"]
)
def test_what_is_no_date_is_none(text: str) -> None:
    assert str(days([text], "ymd")[0]) == "nan"
