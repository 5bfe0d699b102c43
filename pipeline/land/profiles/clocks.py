"""The texts of a clock and a calendar as microseconds from 1970, local or UTC as they stand."""

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.land.log_times import parse_moment

DateOrder = Literal["ymd", "dmy", "mdy"]

DAY_US: Final = 86_400_000_000
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)
_BLANK: Final = (None, "")


def _nothing(count: int) -> NDArray[np.float64]:
    return np.full(count, np.nan)


def moments(texts: Sequence[str | None]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """ISO 8601 texts as microseconds, NaN where they are none, and which of them have no offset.

    Those without an offset count on their own local clock. Microseconds since 1970 are exact in
    float64 until the year 2255.
    """
    found, is_naive = _nothing(len(texts)), np.zeros(len(texts), bool)
    for row, text in enumerate(texts):
        moment = None if text in _BLANK or text is None else parse_moment(text.strip())
        if moment is None:
            continue
        is_naive[row] = moment.tzinfo is None
        aware = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
        found[row] = (aware - _EPOCH) // _MICROSECOND
    return found, is_naive


def clock_times(texts: Sequence[str | None]) -> NDArray[np.float64]:
    """Times of day (24-hour, ISO 8601 with or without colons) as microseconds from midnight.

    A leap second, 23:59:60, is the midnight after it. NaN where a text is no time of day.
    """
    found = _nothing(len(texts))
    for row, text in enumerate(texts):
        micros = None if text is None else _clock_time(text.strip())
        if micros is not None:
            found[row] = micros
    return found


def _clock_time(text: str) -> int | None:
    text = f"0{text}" if text[1:2] == ":" else text
    try:
        read = time.fromisoformat(text)
    except ValueError:
        moment = parse_moment(f"2016-12-31T{text}") if ":60" in text else None
        if moment is None or moment.tzinfo is not None:
            return None
        return (moment - datetime(2016, 12, 31)) // _MICROSECOND  # noqa: DTZ001 - a clock alone
    if read.tzinfo is not None:
        return None
    seconds = 3600 * read.hour + 60 * read.minute + read.second
    return 1_000_000 * seconds + read.microsecond


def days(texts: Sequence[str | None], order: DateOrder) -> NDArray[np.float64]:
    """Dates in any of the usual spellings of `order` as microseconds of their midnights; NaN where
    a text is no date. Two digits of a year are of this century.
    """
    found = (None if text is None else _day(text.strip(), order) for text in texts)
    return np.asarray([np.nan if d is None else _midnight_us(d) for d in found], np.float64)


@cache
def _midnight_us(day: date) -> int:
    return (datetime.combine(day, time(), UTC) - _EPOCH) // _MICROSECOND


@cache
def _day(text: str, order: DateOrder) -> date | None:
    parts = re.findall(r"\d+", text)
    if len(parts) == 1:
        parts = _split(parts[0], order)
    # A date is three numbers; letters (names of months) are not read.
    if len(parts) != 3 or re.search(r"[^\W\d_]", text):
        return None
    numbers = dict(zip(order, map(int, parts), strict=True))
    year = numbers["y"] + (2000 if numbers["y"] < 100 else 0)
    try:
        return date(year, numbers["m"], numbers["d"])
    except (ValueError, OverflowError):
        return None


def _split(digits: str, order: DateOrder) -> list[str]:
    """20260314 or 14032026 or 260314 in its three parts."""
    year = len(digits) - 4
    if year not in (2, 4):
        return []
    widths = [year if part == "y" else 2 for part in order]
    starts = [sum(widths[:n]) for n in range(3)]
    return [digits[start : start + width] for start, width in zip(starts, widths, strict=True)]


def over_midnight(clock_us: NDArray[np.float64]) -> NDArray[np.float64]:
    """How many days have passed since the first row: one more at each fall of over half a day.

    A time of day that is not known (NaN) stays on the day of the row above.
    """
    known = np.flatnonzero(~np.isnan(clock_us))
    passed = np.zeros(len(clock_us))
    if len(known) > 1:
        falls = np.diff(clock_us[known]) < -DAY_US / 2
        passed[known[1:]] = np.cumsum(falls)
    return passed
