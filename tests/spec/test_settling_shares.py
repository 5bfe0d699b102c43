"""settling_shares: how many of a student's latest level-offs and power changes were trimmed in time."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from tests.tables import rows_of

HEAD = (
    "maneuver_id | figure:text | student_id | device_class | session_id | session_date | started_at "
    "| start_s | time_s | is_settled\n"
)


def shares(sessions: list[list[tuple[float, bool]]]) -> list[dict[str, Any]]:
    """One row per session; each session is a list of (time, settled)."""
    lines = []
    for n, session in enumerate(sessions):
        day = date(2026, 3, 1) + timedelta(days=n)
        at = datetime(day.year, day.month, day.day, 9)  # noqa: DTZ001 (text without a zone)
        for i, (seconds, done) in enumerate(session):
            lines.append(
                f"m{n}-{i} | settled or set | A | simulator | s{n:02d} | {day} | {at.isoformat()} "
                f"| {i} | {seconds} | {'yes' if done else 'no'}"
            )
    return rows_of("settling_shares", followed_events=HEAD + "\n".join(lines))


def test_the_share_counts_only_what_was_trimmed_within_the_limit() -> None:
    (row,) = shares([[(30, True), (60, True), (61, True), (90, False)]])
    assert row["settled_share"] == pytest.approx(0.5)
    assert 0 < row["share_low"] < 0.5 < row["share_high"] < 1


def test_an_event_that_ended_early_is_no_failure() -> None:
    (row,) = shares([[(10, False), (30, True), (90, False)]])
    assert row["settled_share"] == pytest.approx(0.5)


def test_none_trimmed_still_has_an_upper_bound() -> None:
    (row,) = shares([[(90, False)] * 12])
    assert (row["settled_share"], row["share_low"]) == (0, 0)
    assert row["share_high"] == pytest.approx(1 - 0.1 ** (1 / 12), abs=1e-3)


def test_all_trimmed_still_has_a_lower_bound() -> None:
    (row,) = shares([[(20, True)] * 4])
    assert (row["settled_share"], row["share_high"]) == (1, 1)
    assert row["share_low"] == pytest.approx(0.1 ** (1 / 4), abs=1e-3)


def test_slow_is_said_from_twelve_events_on_at_two_sessions_running() -> None:
    late = [(90.0, False)] * 4
    rows = shares([late] * 5)
    assert [r["event_count"] for r in rows] == [4, 8, 12, 16, 20]
    assert [r["is_below"] for r in rows] == [False, False, True, True, True]
    assert [r["is_slow"] for r in rows] == [False, False, False, True, True]
    assert [r["is_latest"] for r in rows] == [False] * 4 + [True]


def test_only_the_last_twenty_four_events_are_looked_at() -> None:
    rows = shares([[(90.0, False)] * 10, [(10.0, True)] * 24])
    assert rows[-1]["event_count"] == 24
    assert rows[-1]["settled_share"] == 1
