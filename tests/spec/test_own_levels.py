"""own_levels: the recency-weighted line through a student's own sessions, against a slow, plain loop."""

# ruff: noqa: E501 (tables in text are wide)

import math
import random
from statistics import median

import pyarrow as pa
import pytest

from tests.tables import rows_of, table

HEAD = "session_id | aspect | is_adjusted | ago | student_id | cohort | stratum | session_date | session_no | figure | variance\n"


def loop(figures: list[float], variances: list[float], count: int) -> tuple[float, float, float]:
    """Level, its variance and the slope per session, newest figure first."""
    centre = median(figures[:8])
    clipped = [
        min(max(x, centre - 2 * math.sqrt(v)), centre + 2 * math.sqrt(v))
        for x, v in zip(figures, variances, strict=True)
    ]
    weights = [0.5 ** (a / 6) / v for a, v in enumerate(variances)]
    total = sum(weights)
    y_mean = sum(w * y for w, y in zip(weights, clipped, strict=True)) / total
    a_mean = sum(w * a for a, w in enumerate(weights)) / total
    spread = sum(w * (a - a_mean) ** 2 for a, w in enumerate(weights))
    joint = sum(
        w * (a - a_mean) * (y - y_mean)
        for a, (w, y) in enumerate(zip(weights, clipped, strict=True))
    )
    pull = spread + count / 0.25**2
    slope = joint / pull if count >= 3 else 0.0
    variance = sum(w * w * v for w, v in zip(weights, variances, strict=True)) / total**2
    return y_mean - slope * a_mean, variance + (a_mean**2 / pull if count >= 3 else 0.0), -slope


def window(session: str, figures: list[float], variances: list[float]) -> str:
    return "\n".join(
        f"{session} | altitude | no | {a} | A | c1 | sim | 2026-03-01 | {len(figures)} | {x!r} | {v!r}"
        for a, (x, v) in enumerate(zip(figures, variances, strict=True))
    )


@pytest.mark.parametrize("count", [1, 2, 3, 4, 8, 9, 24])
def test_the_line_equals_the_plain_loop(count: int) -> None:
    chance = random.Random(count)
    figures = [chance.gauss(0.3, 0.6) for _ in range(count)]
    variances = [chance.uniform(0.1, 0.3) for _ in range(count)]
    (row,) = rows_of("own_levels", session_windows=HEAD + window("s", figures, variances))
    found = (row["own_ln"], row["own_variance"], row["slope_ln_per_session"])
    assert found == pytest.approx(loop(figures, variances, count), rel=1e-12, abs=1e-14)


def test_equal_sessions_give_their_own_figure() -> None:
    (row,) = rows_of("own_levels", session_windows=HEAD + window("s", [0.4] * 6, [0.1] * 6))
    assert row["own_ln"] == pytest.approx(0.4)
    assert row["slope_ln_per_session"] == pytest.approx(0)


def test_an_odd_day_counts_no_further_than_two_standard_deviations() -> None:
    levels = [
        rows_of(
            "own_levels", session_windows=HEAD + window("s", [odd, -0.5, -0.5, -0.5], [0.1] * 4)
        )[0]["own_ln"]
        for odd in (-0.5 + 2 * math.sqrt(0.1), 3.0)
    ]
    assert levels[0] == pytest.approx(levels[1])


def test_no_sessions_give_no_rows() -> None:
    empty: pa.Table = table(HEAD)
    assert rows_of("own_levels", session_windows=empty) == []
