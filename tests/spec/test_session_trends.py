"""session_trends: is there a trend over the latest sessions, large enough to matter and seen twice."""

import math
from typing import Any

import pytest

from tests.tables import rows_of

HEAD = "session_id | aspect | is_adjusted | ago | student_id | stratum | session_no | figure\n"


def trends(figures: list[float]) -> list[dict[str, Any]]:
    """One row per session, in order, each looking back on the ones before it."""
    lines = [
        f"s{n:02d} | altitude | no | {n - i} | A | sim | {n + 1} | {figures[i]!r}"
        for n in range(len(figures))
        for i in range(n + 1)
    ]
    return rows_of("session_trends", session_windows=HEAD + "\n".join(lines))


def test_a_steady_rise_has_its_slope_its_score_and_its_exact_chance() -> None:
    last = trends([0.0, 0.1, 0.2, 0.3, 0.4])[-1]
    assert last["slope_ln_per_session"] == pytest.approx(0.1)
    assert last["kendall_s"] == 10
    assert last["p_exact"] == pytest.approx(2 / math.factorial(5))
    assert last["change_ln"] == pytest.approx(0.4)
    assert (last["start_ratio"], last["end_ratio"]) == pytest.approx((1.0, math.exp(0.4)))


def test_four_sessions_are_too_early_for_a_trend() -> None:
    last = trends([0.0, 1.0, 2.0, 3.0])[-1]
    assert last["p_exact"] is None
    assert interval(last) == (None, None)


def interval(row: dict[str, Any]) -> tuple[float | None, float | None]:
    return row["slope_low_ln_per_session"], row["slope_high_ln_per_session"]


def test_five_sessions_leave_every_slope_between_the_least_and_the_greatest_pair_s() -> None:
    """At five only a score of 10 of 10 is significant: places 1 and 10 of the ten pairs' slopes."""
    last = trends([0.0, 0.1, 0.0, 0.3, 0.2])[-1]
    assert interval(last) == pytest.approx((-0.1, 0.3))


def test_six_sessions_leave_out_one_pair_s_slope_at_either_end() -> None:
    """At six a score of 13 of 15 is significant: places 2 and 14 of the fifteen slopes."""
    last = trends([0.0, 0.0, 0.0, 0.0, 0.0, 1.0])[-1]
    # slopes: ten of 0, and 1/5, 1/4, 1/3, 1/2, 1
    assert interval(last) == pytest.approx((0.0, 0.5))


def test_the_interval_leaves_out_no_change_just_where_the_test_is_significant() -> None:
    steady = trends([0.0, 0.2, 0.3, 0.5, 0.9, 1.4, 1.5])[-1]
    assert steady["p_exact"] < 0.05
    assert steady["slope_low_ln_per_session"] > 0
    odd = trends([0.0, 1.5, 0.3, 0.5, 0.2, 1.4, 0.9])[-1]
    assert odd["p_exact"] > 0.05
    assert odd["slope_low_ln_per_session"] < 0 < odd["slope_high_ln_per_session"]


def test_one_session_has_no_slope() -> None:
    (row,) = trends([0.3])
    assert (row["slope_ln_per_session"], row["kendall_s"], row["is_rising"]) == (None, None, False)


def test_a_trend_must_be_seen_at_two_sessions_running() -> None:
    rising = [row["is_rising"] for row in trends([0.0, 0.1, 0.2, 0.3, 0.4, 0.5])]
    assert rising == [False, False, False, False, False, True]


def test_a_fall_is_improvement() -> None:
    last = trends([0.5, 0.4, 0.3, 0.2, 0.1, 0.0])[-1]
    assert (last["is_falling"], last["is_rising"]) == (True, False)


def test_a_change_that_does_not_matter_is_no_trend() -> None:
    small = trends([0.01 * i for i in range(7)])[-1]
    assert small["p_exact"] < 0.05
    assert not small["is_rising"]
    narrow = trends([math.log(0.1) + 0.1 * i for i in range(7)])[-1]  # 10 ft becomes 18 ft
    assert narrow["change_ln"] > 0.2231
    assert not narrow["is_rising"]


def test_only_the_last_ten_sessions_are_looked_at() -> None:
    last = trends([5.0] + [0.1 * i for i in range(10)])[-1]
    assert last["window_sessions"] == 10
    assert last["kendall_s"] == 45


def test_equal_figures_score_nothing() -> None:
    last = trends([0.2] * 7)[-1]
    assert (last["kendall_s"], last["p_exact"], last["slope_ln_per_session"]) == (0, 1.0, 0.0)
    assert interval(last) == (0.0, 0.0)
