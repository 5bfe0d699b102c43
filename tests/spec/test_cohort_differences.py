"""cohort_differences: two cohorts against the same standard, students as the unit."""

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.tables import rows_of


def compared(first: list[float], other: list[float]) -> dict[str, Any]:
    levels = "student_id | aspect | stratum | cohort | session_id | session_no\n"
    own = "session_id | aspect | is_adjusted | own_ln\n"
    for cohort, values in (("c1", first), ("c2", other)):
        for i, value in enumerate(values):
            levels += f"{cohort}-{i} | altitude | sim | {cohort} | {cohort}-{i} | 3\n"
            own += f"{cohort}-{i} | altitude | no | {value}\n{cohort}-{i} | altitude | yes | 9\n"
    (row,) = rows_of("cohort_differences", current_levels=levels, own_levels=own)
    return row


def test_the_interval_is_welchs() -> None:
    rng = np.random.default_rng(2)
    first, other = rng.normal(0.2, 0.4, 9).tolist(), rng.normal(0, 0.2, 14).tolist()
    row = compared(first, other)
    welch = stats.ttest_ind(first, other, equal_var=False).confidence_interval(0.95)
    assert row["ratio"] == pytest.approx(math.exp(np.mean(first) - np.mean(other)))
    assert math.log(row["ratio_low"]) == pytest.approx(welch.low, abs=2e-4)
    assert math.log(row["ratio_high"]) == pytest.approx(welch.high, abs=2e-4)


def test_with_four_students_on_a_side_no_difference_is_told() -> None:
    row = compared([0.1, 0.2, 0.3, 0.4], [0.0] * 3 + [0.1] * 6)
    assert (row["ratio"], row["ratio_low"]) == (None, None)
    assert row["difference_reason"] == "fewer than 5 students on one side"


def test_without_scatter_there_is_a_difference_and_a_reason_for_no_interval() -> None:
    row = compared([0.1] * 5, [0.0] * 6)
    assert row["ratio"] == pytest.approx(math.exp(0.1))
    assert (row["ratio_low"], row["ratio_high"]) == (None, None)
    assert "no scatter" in row["difference_reason"]
