"""learning_fits, forecasts, student_trends: how a student learns, and when the standard may be met."""

# ruff: noqa: E501 (tables in text are wide)

import math
from typing import Any

import pytest

from tests.tables import rows_of

LEVEL_HEAD = "student_id | aspect | stratum | cohort | session_id | session_no | is_current | level_ratio | p_not_met | state | trend\n"
WINDOW_HEAD = "session_id | aspect | is_adjusted | ago | figure | variance\n"
EXPONENTS = [0.10, 0.20, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60]


def school(
    exponents: list[float] = EXPONENTS, *, sessions: int = 8, **changed: str
) -> dict[str, str]:
    """Students who learn exactly by a power law from twice the standard, all with equal sessions."""
    levels, windows = LEVEL_HEAD, WINDOW_HEAD
    state, trend = changed.get("state", "outside the standard"), changed.get("trend", "none seen")
    for n, b in enumerate(exponents):
        now = 2.0 * sessions**-b
        chance = 0.9 if now > 1 else 0.1
        levels += f"S{n} | altitude | sim | c1 | s{n} | {sessions} | yes | {now} | {chance} | {state} | {trend}\n"
        for ago in range(sessions):
            windows += f"s{n} | altitude | no | {ago} | {math.log(2.0 * (sessions - ago) ** -b)} | {changed.get('variance', '0.001')}\n"
    return {"current_levels": levels, "session_windows": windows}


def test_the_exponent_of_a_power_law_is_found() -> None:
    rows = rows_of("learning_fits", **school())
    assert [r["own_exponent"] for r in rows] == pytest.approx(EXPONENTS)


def test_one_session_has_no_exponent() -> None:
    rows = rows_of("learning_fits", **school([0.3], sessions=1))
    assert rows[0]["own_exponent"] is None


def forecasts(
    exponents: list[float] = EXPONENTS,
    *,
    sessions: int = 8,
    variance: str = "0.001",
    state: str = "outside the standard",
) -> dict[str, dict[str, Any]]:
    inputs = school(exponents, sessions=sessions, variance=variance, state=state)
    return {r["student_id"]: r for r in rows_of("forecasts", **inputs)}


def test_with_little_noise_the_forecast_is_where_the_power_law_reaches_the_standard() -> None:
    found = forecasts(variance="0.0001")
    # 2 x n^-0.2 = 1 at n = 32, 24 sessions from now
    assert abs(found["S1"]["middle_sessions"] - 24) <= 1
    assert (
        found["S1"]["earliest_sessions"]
        <= found["S1"]["middle_sessions"]
        <= found["S1"]["latest_sessions"]
    )
    assert found["S0"]["middle_sessions"] is None  # n = 1024


def test_those_inside_already_have_no_forecast() -> None:
    assert "S8" not in forecasts()


def test_with_seven_students_there_is_no_cohort_to_go_by() -> None:
    assert forecasts(exponents=EXPONENTS[:7]) == {}
    assert forecasts(exponents=EXPONENTS[:8]) != {}


def test_before_five_sessions_and_on_a_plateau_nothing_is_forecast() -> None:
    assert forecasts(sessions=4) == {}
    assert forecasts(state="plateau") == {}


def test_more_noise_gives_a_wider_interval() -> None:
    sure, unsure = forecasts(variance="0.0001")["S1"], forecasts(variance="0.2")["S1"]
    assert unsure["earliest_sessions"] < sure["earliest_sessions"]
    assert (unsure["latest_sessions"] or 99) > sure["latest_sessions"]


TRENDS = """
    session_id | aspect   | is_adjusted | window_sessions | slope_ln_per_session | slope_low_ln_per_session | slope_high_ln_per_session | change_ln | kendall_s | p_exact | is_rising | is_falling
    s1         | altitude | no          | 6               | -0.1                 | -0.2                     | -0.05                     | -0.5      | -13       | 0.01    | no        | yes"""


def told(
    forecast: str,
    *,
    chance: float = 0.9,
    state: str = "improving",
    trends: str = TRENDS,
    trend: str = "improving",
) -> dict[str, Any]:
    (row,) = rows_of(
        "student_trends",
        current_levels=LEVEL_HEAD
        + f"A | altitude | sim | c1 | s1 | 6 | yes | 1.5 | {chance} | {state} | {trend}",
        session_trends=trends,
        forecasts="student_id | aspect | stratum | earliest_sessions | middle_sessions | latest_sessions\n"
        + forecast,
    )
    return row


def test_the_trend_is_the_one_of_the_latest_session() -> None:
    row = told("A | altitude | sim | 4 | 9 | 20")
    assert (row["slope_per_session"], row["kendall_s"], row["p_exact"], row["is_trend"]) == (
        -0.1,
        -13,
        0.01,
        True,
    )
    assert (row["slope_low_per_session"], row["slope_high_per_session"]) == (-0.2, -0.05)
    assert row["change_ratio"] == pytest.approx(math.exp(-0.5))
    assert row["trend_reason"] is None


def test_too_few_sessions_forecast_nothing_however_close_they_were() -> None:
    row = told("A | altitude | sim | 4 | 9 | 20", chance=0.1, state="insufficient data")
    assert row["forecast"] == "cannot say: insufficient data"


def test_an_interval_is_told_only_as_a_whole_and_else_a_lower_bound() -> None:
    whole = told("A | altitude | sim | 4 | 9 | 20")
    assert (
        whole["forecast"]
        == "about 9 more sessions (4 to 20), if learning goes on as it has in this cohort"
    )
    assert (
        whole["sessions_to_standard_low"],
        whole["sessions_to_standard"],
        whole["sessions_to_standard_high"],
    ) == (4, 9, 20)
    bound = told("A | altitude | sim | 4 | 9 | -")
    assert (
        bound["forecast"]
        == "at least 4 more sessions, if learning goes on as it has in this cohort"
    )
    assert bound["sessions_to_standard"] is None


@pytest.mark.parametrize(
    ("forecast", "changed", "words"),
    [
        (
            "A | altitude | sim | - | - | -",
            {},
            "cannot say: too little improvement to go by so far",
        ),
        (
            "A | altitude | sim | 4 | 9 | 20",
            {"trend": "slipping"},
            "cannot say: too little improvement to go by so far",
        ),
        (
            "A | altitude | sim | 0 | 9 | -",
            {},
            "cannot say: the standard may be met any time, or much later",
        ),
        (
            "B | altitude | sim | 4 | 9 | 20",
            {},
            "cannot say: too few sessions, or too few students to compare with",
        ),
        ("B | altitude | sim | 4 | 9 | 20", {"state": "plateau"}, "cannot say: no trend to go by"),
        (
            "B | altitude | sim | 4 | 9 | 20",
            {"chance": 0.5},
            "more likely inside the standard already",
        ),
    ],
)
def test_what_cannot_be_told_is_said(forecast: str, changed: dict[str, Any], words: str) -> None:
    assert told(forecast, **changed)["forecast"] == words


def test_below_five_sessions_there_is_no_trend_but_a_reason() -> None:
    early = TRENDS.replace("| 0.01    |", "| -       |").replace("yes", "no")
    row = told("A | altitude | sim | 4 | 9 | 20", trends=early)
    assert (row["slope_per_session"], row["is_trend"]) == (None, False)
    assert row["trend_reason"] == "too early for a trend: 6 sessions, 5 are needed"
