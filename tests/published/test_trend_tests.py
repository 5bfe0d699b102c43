"""Trends against published values: the Theil-Sen slope and the exact Mann-Kendall test.

The worked example is Sen's (Journal of the American Statistical Association 63, 1968), read in
secondary restatements and recomputed; its interval, 26/7 to 35/8, from memory and by scipy. The
table of exact probabilities is Kendall's, as in Gilbert 1987, Table A18, from memory and recomputed.
"""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.tables import rows_of

SEN_X = [1, 2, 3, 4, 10, 12, 18]
SEN_Y = [9, 15, 19, 20, 45, 55, 78]
LONG = "name | value\nflag_trend_maximum_sessions | 18"


def trend(x: Sequence[int], y: Sequence[float]) -> dict[str, Any]:
    """What session_trends makes of figures y at sessions x, the last being the newest."""
    head = "session_id | aspect | is_adjusted | ago | student_id | stratum | session_no | figure\n"
    lines = [
        f"s | altitude | no | {x[-1] - a} | A | sim | {x[-1]} | {b!r}"
        for a, b in zip(x, y, strict=True)
    ]
    (row,) = rows_of("session_trends", session_windows=head + "\n".join(lines), own_limits=LONG)
    return row


@pytest.fixture(scope="module")
def tails() -> dict[tuple[int, int], float]:
    rows = rows_of("kendall_tails", own_limits="name | value\nflag_trend_maximum_sessions | 12")
    return {(r["sessions"], r["score"]): r["p_exact"] for r in rows}


Tails = dict[tuple[int, int], float]


def test_sens_example_has_slope_4() -> None:
    assert trend(SEN_X, SEN_Y)["slope_ln_per_session"] == 4


def test_sens_interval_of_93_percent_by_the_normal_curve_is_the_exact_one_at_95() -> None:
    """Scores of -13 to 13 keep a slope: 1 - 2 x 76 / 7! = 97 %; 13 itself would be left at 93 %."""
    row = trend(SEN_X, SEN_Y)
    told = row["slope_low_ln_per_session"], row["slope_high_ln_per_session"]
    assert told == pytest.approx((26 / 7, 35 / 8))
    library = stats.theilslopes(SEN_Y, SEN_X, alpha=0.93)
    assert told == pytest.approx((library.low_slope, library.high_slope))


def test_the_intercept_is_the_median_of_y_less_slope_times_median_of_x() -> None:
    """4 by this convention; the median of y - 4 x would be 6. At x = 1 the fit is 4 + 4 = 8."""
    row = trend(SEN_X, SEN_Y)
    assert math.log(row["start_ratio"]) == pytest.approx(8)
    assert math.log(row["end_ratio"]) == pytest.approx(4 + 4 * 18)


def test_sens_example_has_score_21_and_exact_p_2_over_7_factorial() -> None:
    row = trend(SEN_X, SEN_Y)
    assert row["kendall_s"] == 21
    assert row["p_exact"] == pytest.approx(2 / math.factorial(7))


@pytest.mark.parametrize(
    ("sessions", "score", "one_sided"),
    [
        (4, 6, 0.0417), (5, 8, 0.0417), (6, 11, 0.0278), (8, 16, 0.0305), (10, 21, 0.0363),
        (10, 23, 0.0233), (10, 25, 0.0143),
    ],
)  # fmt: skip
def test_exact_probabilities_are_kendalls(
    tails: Tails, sessions: int, score: int, one_sided: float
) -> None:
    assert tails[sessions, score] / 2 == pytest.approx(one_sided, abs=5e-5)


@pytest.mark.parametrize(
    ("sessions", "smallest"), [(3, 0.333), (4, 0.0833), (5, 0.0167), (6, 0.00278)]
)
def test_four_sessions_cannot_reach_five_percent(
    tails: Tails, sessions: int, smallest: float
) -> None:
    assert min(p for (n, _), p in tails.items() if n == sessions) == pytest.approx(
        smallest, rel=2e-3
    )


@pytest.mark.parametrize(
    ("sessions", "critical"), [(5, 10), (6, 13), (7, 15), (8, 18), (9, 20), (10, 23), (12, 30)]
)
def test_critical_scores_at_five_percent(tails: Tails, sessions: int, critical: int) -> None:
    pairs = sessions * (sessions - 1) // 2
    possible = [s for s in range(pairs % 2, pairs + 1, 2) if tails[sessions, s] <= 0.05]
    assert min(possible) == critical


@pytest.mark.parametrize(("sessions", "variance"), [(7, 44.333), (10, 125.0)])
def test_the_variance_of_the_score_is_n_n_minus_1_2n_plus_5_over_18(
    tails: Tails, sessions: int, variance: float
) -> None:
    pairs = sessions * (sessions - 1) // 2
    found = 0.0
    for score in range(pairs % 2, pairs + 1, 2):
        beyond = tails.get((sessions, score + 2), 0.0)
        found += (tails[sessions, score] - beyond) * score**2
    assert found == pytest.approx(variance, abs=5e-4)
    assert found == pytest.approx(sessions * (sessions - 1) * (2 * sessions + 5) / 18)


def test_a_constant_series_has_no_trend_and_a_monotone_one_the_strongest() -> None:
    flat = trend(list(range(1, 8)), [3.0] * 7)
    assert (flat["kendall_s"], flat["slope_ln_per_session"], flat["p_exact"]) == (0, 0, 1)
    up = trend(list(range(1, 8)), [0.1 * i**2 for i in range(7)])
    down = trend(list(range(1, 8)), [-0.1 * i**2 for i in range(7)])
    assert (up["kendall_s"], down["kendall_s"]) == (21, -21)


@pytest.mark.parametrize("seed", range(12))
def test_slopes_and_exact_tests_equal_a_library_on_random_data(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = int(rng.integers(5, 19))
    y = rng.normal(0, 1, count).tolist()
    row = trend(list(range(1, count + 1)), y)
    x = np.arange(count)
    assert row["slope_ln_per_session"] == pytest.approx(stats.theilslopes(y, x).slope, abs=1e-12)
    library = stats.theilslopes(y, x, alpha=0.95)
    slopes = sorted((y[j] - y[i]) / (j - i) for i in range(count) for j in range(i + 1, count))
    for told, theirs in (("low", library.low_slope), ("high", library.high_slope)):
        place = int(np.argmin(np.abs(np.array(slopes) - row[f"slope_{told}_ln_per_session"])))
        near = slopes[max(place - 1, 0) : place + 2]
        assert min(abs(slope - theirs) for slope in near) < 1e-12  # theirs by the normal curve
    kendall = stats.kendalltau(x, y, method="exact")
    assert row["kendall_s"] == round(kendall.statistic * count * (count - 1) / 2)
    assert row["p_exact"] == pytest.approx(kendall.pvalue, rel=1e-9)
