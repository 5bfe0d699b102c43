"""Leaning toward the cohort against Efron and Morris's batting averages (Scientific American 1977).

Eighteen players after 45 at-bats, and the rest of their season. The data are from memory; the
factor 0.212 and "nearer for 16 of 18" were read in secondary sources, and all was recomputed. Their
estimator divides by k - 3 where the relation uses the sample variance, so the factors are compared
through that; the relation's middle is a median and its lean is capped (limited translation, by the
same authors).
"""

import math
from typing import Any

import numpy as np
import pytest

from tests.tables import build_over, rows_of

HITS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]
SEASON = [
    0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256, 0.303, 0.264,
    0.226, 0.285, 0.316, 0.200,
]  # fmt: skip
SCALE = 100.0  # in hundredths, so that the floor of the cohort's spread is out of reach


@pytest.fixture(scope="module")
def leant() -> list[dict[str, Any]]:
    average = np.array(HITS) / 45
    variance = average.mean() * (1 - average.mean()) / 45
    head = "session_id | aspect | is_adjusted | student_id | cohort | stratum | session_date | session_no | own_ln | own_variance | slope_ln_per_session\n"  # noqa: E501
    lines = [
        f"P{i:02d} | altitude | no | P{i:02d} | league | sim | 2026-03-01 | 45 "
        f"| {SCALE * average[i]!r} | {SCALE**2 * variance!r} | 0".replace(
            "np.float64(", ""
        ).replace(")", "")
        for i in range(18)
    ]
    con = build_over(["session_levels"], own_levels=head + "\n".join(lines))
    rows: list[dict[str, Any]] = con.sql("FROM session_levels ORDER BY session_id").pl().to_dicts()
    return rows


def test_the_grand_mean_is_0_265() -> None:
    assert np.mean(np.array(HITS) / 45) == pytest.approx(0.265, abs=5e-4)


def test_the_shrink_factor_is_0_212_by_their_divisor(leant: list[dict[str, Any]]) -> None:
    own = leant[0]["own_share"]
    assert 1 - (1 - own) * 15 / 17 == pytest.approx(0.212, abs=5e-4)


def test_leaning_moves_estimates_nearer_the_season_for_most(leant: list[dict[str, Any]]) -> None:
    estimate = np.array([r["level_ln"] for r in leant]) / SCALE
    raw, season = np.array(HITS) / 45, np.array(SEASON)
    nearer = np.abs(estimate - season) < np.abs(raw - season)
    assert nearer.sum() >= 15
    assert ((estimate - season) ** 2).sum() < 0.6 * ((raw - season) ** 2).sum()


def test_nobody_is_moved_by_more_than_half_a_standard_error(leant: list[dict[str, Any]]) -> None:
    error = SCALE * math.sqrt(0.265 * 0.735 / 45)
    for row in leant:
        assert abs(row["level_ln"] - row["own_ln"]) <= 0.5 * error * 1.001


@pytest.mark.parametrize(
    ("sessions", "weight"), [(1, 0.2), (2, 1 / 3), (5, 0.5556), (10, 0.7143), (20, 0.8333)]
)
def test_the_weight_of_the_students_own_is_n_over_n_plus_4(sessions: int, weight: float) -> None:
    """Normal-normal shrinkage with a variance of one session four times that between students."""
    (row,) = rows_of(
        "session_levels",
        own_levels="session_id | aspect | is_adjusted | student_id | cohort | stratum | session_date | session_no | own_ln | own_variance | slope_ln_per_session\n"  # noqa: E501
        f"s | altitude | no | A | c | sim | 2026-03-01 | 3 | 0.4 | {4 * 0.25 / sessions} | 0",
        cohort_leans="cohort | aspect | stratum | is_adjusted | session_date | middle_ln | true_variance | student_count\n"  # noqa: E501
        "c | altitude | sim | no | 2026-03-01 | 0.3 | 0.25 | 20",
    )
    assert row["own_share"] == pytest.approx(weight, abs=5e-5)
    assert row["level_ln"] == pytest.approx(weight * 0.4 + (1 - weight) * 0.3, abs=5e-5)
    assert 0.3 <= row["level_ln"] <= 0.4
