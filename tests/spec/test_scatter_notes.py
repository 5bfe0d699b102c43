"""scatter_notes: the noise that the rule works with, and how many sessions it asks for."""

import math
from typing import Any

import pytest

from tests.tables import rows_of


def note(between: float, within: float = 0.16, students: int = 8) -> dict[str, Any]:
    (row,) = rows_of(
        "scatter_notes",
        pooled_noise=f"""
            cohort | aspect   | stratum | session_date | within_variance | between_variance | session_count
            c1     | altitude | sim     | 2026-03-01   | 9               | 9                | 1
            c1     | altitude | sim     | 2026-03-02   | {within}        | {between}        | 40""",
        cohort_leans=f"""
            cohort | aspect   | stratum | session_date | is_adjusted | true_variance | student_count
            c1     | altitude | sim     | 2026-03-02   | no          | 0.25          | {students}
            c1     | altitude | sim     | 2026-03-02   | yes         | 9             | 9""",
        session_figures="""
            cohort | aspect   | stratum | device_class | maneuver_count | is_counted
            c1     | altitude | sim     | simulator    | 4              | yes
            c1     | altitude | sim     | simulator    | 6              | yes
            c1     | altitude | sim     | simulator    | 1              | no""",
        device_effects="""
            aspect   | device_class | session_date | device_id | effect_ln
            altitude | simulator    | 2026-03-01   | D1        | 5
            altitude | simulator    | 2026-03-02   | D1        | 0.1
            altitude | simulator    | 2026-03-02   | D2        | -0.1""",
    )
    return row


def test_the_latest_estimates_are_told_as_standard_deviations() -> None:
    row = note(0.09)
    assert (row["within_sd"], row["between_sd"], row["students_sd"]) == pytest.approx(
        (0.4, 0.3, 0.5)
    )
    assert row["session_sd"] == pytest.approx(math.sqrt(0.09 + 0.16 / 5))
    assert row["device_sd"] == pytest.approx(0.1)
    assert row["scatter_note"] is None


def test_where_days_differ_much_the_sessions_that_it_takes_are_said() -> None:
    row = note(0.25)
    sessions = math.ceil(((1.6449 + 0.8416) * math.sqrt(0.25 + 0.032) / math.log(2)) ** 2)
    assert (row["sessions_needed"], sessions) == (4, 4)
    assert (
        row["scatter_note"]
        == "days differ much here: it takes about 4 sessions to find a student at twice the standard"
    )
    assert note(0.49)["sessions_needed"] == 7


def test_seven_students_do_not_tell_how_far_students_differ() -> None:
    assert note(0.09, students=7)["students_sd"] is None


def test_no_rule_flags_before_three_sessions() -> None:
    assert note(0.03)["sessions_needed"] == 3
