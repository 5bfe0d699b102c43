"""Local times to UTC at the hours that clocks repeat and skip.

Source: the tz database, zone America/New_York: 2025-11-02 01:30 happens twice (05:30Z and 06:30Z),
2025-03-09 02:30 does not exist. The leap second of 2016-12-31, 23:59:60 UTC, is that of IERS
Bulletin C 52.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.land.profiles.clocks import clock_times, moments
from pipeline.land.profiles.zones import to_utc, zone_fault

NEW_YORK = "America/New_York"
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def micros(*texts: str) -> np.ndarray:
    """Local clock readings as microseconds."""
    return moments(list(texts))[0].astype(np.int64)


def utc(values: np.ndarray) -> list[str]:
    """Microseconds of UTC as text."""
    return [(EPOCH + timedelta(microseconds=int(v))).strftime("%dT%H:%MZ") for v in values]


@pytest.mark.parametrize(
    ("started_at", "moment"),
    [("2025-11-02T05:20:00+00:00", "02T05:30Z"), ("2025-11-02T06:20:00+00:00", "02T06:30Z")],
)
def test_the_start_decides_an_hour_that_happens_twice(started_at: str, moment: str) -> None:
    start = datetime.fromisoformat(started_at)
    found, is_skipped = to_utc(micros("2025-11-02T01:30"), NEW_YORK, start)
    assert utc(found) == [moment]
    assert not is_skipped.any()


def test_a_log_through_the_repeated_hour_goes_on_by_its_own_order() -> None:
    local = ["00:59", "01:10", "01:50", "01:00", "01:30", "01:59", "02:00", "02:01"]
    found, _ = to_utc(micros(*(f"2025-11-02T{t}" for t in local)), NEW_YORK, None)
    assert utc(found) == [
        *("02T04:59Z", "02T05:10Z", "02T05:50Z"),
        *("02T06:00Z", "02T06:30Z", "02T06:59Z", "02T07:00Z", "02T07:01Z"),
    ]


def test_a_row_out_of_order_by_seconds_is_not_taken_for_the_second_hour() -> None:
    local = ["01:10:00", "01:10:02", "01:10:01", "01:10:03"]
    found, _ = to_utc(micros(*(f"2025-11-02T{t}" for t in local)), NEW_YORK, None)
    assert ((found - found[0]) / 1e6).tolist() == [0, 2, 1, 3]


def test_an_hour_that_is_skipped_holds_no_moment() -> None:
    local = micros("2025-03-09T01:59", "2025-03-09T02:00", "2025-03-09T02:30", "2025-03-09T03:00")
    found, is_skipped = to_utc(local, NEW_YORK, None)
    assert is_skipped.tolist() == [False, True, True, False]
    assert utc(found[[0, 3]]) == ["09T06:59Z", "09T07:00Z"]


def test_a_leap_second_is_the_midnight_after_it() -> None:
    found, _ = moments(["2016-12-31T23:59:60Z", "2017-01-01T00:00:00Z"])
    assert found[0] == found[1]
    assert clock_times(["23:59:60", "23:59:60.25"]).tolist() == [86_400e6, 86_400.25e6]


@given(
    st.sampled_from([NEW_YORK, "Europe/Oslo", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"]),
    st.integers(0, 366 * 96),
    st.integers(1, 12),
)
@settings(max_examples=150, deadline=None)
def test_clocks_read_off_utc_lead_back_to_it(zone: str, quarter: int, hours: int) -> None:
    """A log of a minute's step, through any change of clocks, comes back as it was flown."""
    from zoneinfo import ZoneInfo

    start = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(minutes=15 * quarter)
    flown = [start + timedelta(minutes=m) for m in range(60 * hours)]
    local = [moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None) for moment in flown]
    found, is_skipped = to_utc(micros(*(m.isoformat() for m in local)), zone, start)
    assert not is_skipped.any()
    assert [EPOCH + timedelta(microseconds=int(v)) for v in found] == flown


def test_a_zone_is_one_of_the_database() -> None:
    assert zone_fault("Europe/Oslo") is None
    for name in ("Oslo", "../etc/passwd", "", "+02:00"):
        assert "no zone of the tz database" in str(zone_fault(name))
