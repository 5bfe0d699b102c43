"""cohort_leans: what a cohort's students have in common on a date."""

# ruff: noqa: E501 (tables in text are wide)

from statistics import mean, median, variance
from typing import Any

import pytest

from tests.tables import rows_of

HEAD = "cohort | aspect | stratum | is_adjusted | student_id | session_date | session_no | own_ln | own_variance\n"
LEVELS = [-0.8, -0.5, -0.3, -0.1, 0.0, 0.3, 0.6, 1.4]


def levels(count: int, day: str = "01", session_no: int = 3, shift: float = 0.0) -> str:
    return "\n".join(
        f"c1 | altitude | sim | no | S{i} | 2026-03-{day} | {session_no} | {LEVELS[i] + shift} | 0.05"
        for i in range(count)
    )


def on(day: str, content: str) -> dict[str, Any]:
    found = rows_of("cohort_leans", own_levels=HEAD + content)
    return next(r for r in found if str(r["session_date"]) == f"2026-03-{day}")


def test_eight_students_give_the_middle_and_the_spread_beyond_sampling() -> None:
    row = on("01", levels(8))
    assert row["middle_ln"] == pytest.approx(median(LEVELS))
    assert row["true_variance"] == pytest.approx(variance(LEVELS) - mean([0.05] * 8))
    assert row["student_count"] == 8


def test_seven_students_give_the_standard_and_a_wide_spread() -> None:
    row = on("01", levels(7))
    assert (row["middle_ln"], row["true_variance"], row["student_count"]) == (
        0,
        pytest.approx(0.49),
        7,
    )


def test_students_with_fewer_than_three_sessions_do_not_count() -> None:
    row = on("01", levels(7) + "\nc1 | altitude | sim | no | S9 | 2026-03-01 | 2 | 0.1 | 0.05")
    assert row["student_count"] == 7


def test_each_student_counts_with_the_latest_level_up_to_the_date() -> None:
    content = levels(8) + "\n" + levels(1, day="02", session_no=4, shift=5.0)
    assert on("01", content)["middle_ln"] == pytest.approx(median(LEVELS))
    assert on("02", content)["middle_ln"] == pytest.approx(median([*LEVELS[1:], LEVELS[0] + 5.0]))


def test_of_two_sessions_on_one_day_the_later_counts() -> None:
    content = levels(8) + "\n" + levels(1, session_no=4, shift=5.0)
    assert on("01", content)["student_count"] == 8
    assert on("01", content)["middle_ln"] == pytest.approx(median([*LEVELS[1:], LEVELS[0] + 5.0]))


def test_alike_students_keep_the_floor_of_the_spread() -> None:
    content = "\n".join(
        f"c1 | altitude | sim | no | S{i} | 2026-03-01 | 3 | 0.2 | 0.05" for i in range(9)
    )
    assert on("01", content)["true_variance"] == pytest.approx(0.09)
