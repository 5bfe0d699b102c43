"""session_levels: a student's own level leant toward the cohort, no further than half a standard error."""

# ruff: noqa: E501 (tables in text are wide)

import math
from statistics import NormalDist
from typing import Any

import pytest

from tests.tables import rows_of


def level(own_ln: float, own_variance: float, middle: float, spread: float) -> dict[str, Any]:
    (row,) = rows_of(
        "session_levels",
        own_levels=f"""
            session_id | aspect   | is_adjusted | student_id | cohort | stratum | session_date | session_no | own_ln   | own_variance   | slope_ln_per_session
            s1         | altitude | no          | A          | c1     | sim     | 2026-03-01   | 3          | {own_ln} | {own_variance} | 0
            """,
        cohort_leans=f"""
            cohort | aspect   | stratum | is_adjusted | session_date | middle_ln | true_variance | student_count
            c1     | altitude | sim     | no          | 2026-03-01   | {middle}  | {spread}      | 12""",
    )
    return row


def test_the_level_lies_between_the_student_and_the_cohort() -> None:
    row = level(0.2, 0.04, 0.1, 0.16)
    assert row["own_share"] == pytest.approx(0.8)
    assert row["level_ln"] == pytest.approx(0.18)
    assert row["level_sd"] == pytest.approx(math.sqrt(0.8 * 0.04))
    assert row["z"] == pytest.approx(0.18 / math.sqrt(0.032))


@pytest.mark.parametrize(("middle", "leant"), [(-5.0, 0.2 - 0.1), (5.0, 0.2 + 0.1)])
def test_the_cohort_moves_nobody_by_more_than_half_a_standard_error(
    middle: float, leant: float
) -> None:
    assert level(0.2, 0.04, middle, 0.09)["level_ln"] == pytest.approx(leant)


@pytest.mark.parametrize("z", [-3.0, -0.8416, 0.0, 0.5, 0.8416, 2.0])
def test_the_chance_is_the_normal_distribution_to_four_figures(z: float) -> None:
    row = level(z * 0.2, 0.04, z * 0.2, 1e9)
    assert row["p_not_met"] == pytest.approx(NormalDist().cdf(z), abs=1.5e-4)


def test_far_outside_or_inside_the_chance_stays_a_chance() -> None:
    assert level(9.0, 0.01, 9.0, 1e9)["p_not_met"] == 1.0
    assert level(-9.0, 0.01, -9.0, 1e9)["p_not_met"] == 0.0
